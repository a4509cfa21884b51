/* loadside units: several units of one kind, or the channels of one, side by side. */
#include <math.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>

#include "command.h"
#include "common.h"
#include "describe.h"
#include "results.h"
#include "say.h"
#include "sources.h"

struct settings {
    struct common common;
    bool channels;
    struct family_list matters;
};

_Static_assert(offsetof(struct settings, common) == 0, "the rows of common.h count from the beginning");

#define PLACE(member) .place = offsetof(struct settings, member)

static const struct option_row options[] = {
    {.group = "What is laid side by side",
     .name = "channels",
     .kind = OPTION_SWITCH,
     PLACE(channels),
     .help = "every channel is a unit"},
    {.name = "matters",
     .argument = "FAMILY=DB",
     .kind = OPTION_FAMILIES,
     PLACE(matters),
     .least = 0.001,
     .most = 60.0,
     .example = "distortion=2",
     .help = "smallest difference that matters"},
    COMMON_BENCH_OPTIONS,
    COMMON_WHAT_OPTIONS,
    COMMON_RESULT_OPTIONS,
    COMMON_LAST_OPTIONS,
};

static const char *const text[] = {
    "Lays units of one kind side by side: each figure in a row, the units in columns, with the middle and the spread, "
    "and says which unit stands out. With fewer than four units none can be called out, and only the differences "
    "show.",
    "Each operand is a capture or a saved result (JSON of 'loadside measure') of one unit; a saved result that holds "
    "several captures stands for as many units. Headerless samples are measured first, and their result saved.",
    "Exit status: 0 no unit stands out for the worse, 1 one does, 2 trouble.",
    NULL,
};

static const struct example examples[] = {
    {"loadside units --bench bench.ini u1.wav u2.wav u3.wav u4.wav u5.wav", "five units, each in its capture"},
    {"loadside units --channels stage.wav", "the channels of one capture"},
    {0},
};

struct tables {
    struct lds_unit_table *table;
    size_t count;
};

static enum lds_status write_text(const void *context, FILE *out, struct lds_error *error)
{
    const struct tables *tables = context;
    return lds_units_text(tables->table, tables->count, out, error);
}

static enum lds_status write_json(const void *context, const char *path, struct lds_error *error)
{
    const struct tables *tables = context;
    return lds_units_json(tables->table, tables->count, path, error);
}

static enum lds_status write_csv(const void *context, const char *path, struct lds_error *error)
{
    const struct tables *tables = context;
    return lds_units_csv(tables->table, tables->count, path, error);
}

static enum exit_status lay_side_by_side(const struct settings *settings, const struct measured *measured, bool good)
{
    struct lds_compare_options compare;
    struct tables tables = {0};
    struct lds_error error = {0};
    bool worse = false;
    lds_compare_options_init(&compare);
    for (int i = 0; i < LDS_FAMILIES; i++)
        compare.matters_db[i] = settings->matters.db[i];
    if (lds_compare_units((struct lds_side){measured->measurement, measured->count}, settings->channels, &compare,
                          &tables.table, &tables.count, &error) == LDS_OK) {
        for (size_t i = 0; i < tables.count; i++)
            worse = worse || tables.table[i].worse;
        good = results_write(&settings->common, &(struct results){&tables, write_text, write_json, write_csv, NULL}) &&
               good;
        lds_unit_tables_free(tables.table, tables.count);
    } else {
        say("units", "%s", error.message);
        good = false;
    }
    return !good ? EXIT_TROUBLE : worse ? EXIT_WORSE : EXIT_DONE;
}

static enum exit_status measure_units(const struct settings *settings, int count, char *const *paths)
{
    struct lds_measure_options measure;
    struct sources sources = {0};
    struct measured measured = {0}, chains = {0};
    enum exit_status status = EXIT_TROUBLE;
    if (common_measure_options(&settings->common, &measure) &&
        sources_open(&sources, &settings->common, &measure.bench, count, paths) &&
        chains_measure(&settings->common, &measure, sources.end_hz, &chains)) {
        bool measured_all = sources_measure(&sources, &settings->common, &measure, 0, sources.count, &measured);
        bool good = measured_all && chains_apply(&chains, &measured) && sources.good;
        size_t units = 0;
        for (size_t i = 0; i < measured.count; i++)
            units += settings->channels ? measured.measurement[i].channels : 1;
        if (units < 2 && good)
            say("units", "%zu unit%s to lay side by side; two at least expected; name more captures%s", units,
                units == 1 ? "" : "s", settings->channels ? ", or one with more channels" : "");
        else if (units >= 2)
            status = lay_side_by_side(settings, &measured, good);
    }
    sources_close(&sources);
    measured_free(&measured);
    measured_free(&chains);
    lds_bench_free(&measure.bench);
    return status;
}

static enum exit_status run_units(int argc, char **argv)
{
    struct settings settings = {0};
    int operand = argc;
    common_init(&settings.common);
    for (int i = 0; i < LDS_FAMILIES; i++)
        settings.matters.db[i] = NAN;
    switch (options_parse(&units_command, argc, argv, &settings, &operand)) {
    case PARSED_BAD:
        return EXIT_TROUBLE;
    case PARSED_HELP:
        describe_help(&units_command, stdout);
        return EXIT_DONE;
    case PARSED:
        break;
    }
    if (operand == argc) {
        say("units", "no capture found; two at least expected; name the captures or saved results of the units");
        return EXIT_TROUBLE;
    }
    if (!common_check(&settings.common) || !common_check_paths(&settings.common, argc - operand, argv + operand))
        return EXIT_TROUBLE;
    return measure_units(&settings, argc - operand, argv + operand);
}

const struct command units_command = {
    .name = "units",
    .operands = "CAPTURE CAPTURE...",
    .summary = "figures of several units side by side, and which unit stands out",
    .text = text,
    .caution = common_caution,
    .options = options,
    .examples = examples,
    .run = run_units,
};
