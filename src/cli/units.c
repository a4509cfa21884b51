/* loadside units: several units of one kind, or the channels of one, side by side. */
#include <math.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "command.h"
#include "common.h"
#include "results.h"
#include "say.h"
#include "sources.h"

struct settings {
    struct common common;
    bool channels;
    struct family_list matters;
};

_Static_assert(offsetof(struct settings, common) == 0, "the rows of common.h count from the beginning");

#define PLACE(member) offsetof(struct settings, member)

static const struct option_row own_options[] = {
    {.group = "What is laid side by side", SWITCH_OPTION("channels", PLACE(channels), "every channel is a unit")},
    {FAMILIES_OPTION("matters", PLACE(matters), 0.001, 60.0, "distortion=2", "smallest difference that matters")},
    {0},
};

static const struct option_row *const options[] = {own_options,
                                                   common_bench_options,
                                                   common_what_options,
                                                   common_keys_options,
                                                   common_result_options,
                                                   common_last_options,
                                                   NULL};

static const char *const text[] = {
    "Shows units of one kind side by side: each figure in a row, the units in columns, with the middle and the spread, "
    "and says which unit stands out. With fewer than four units none can be named, and only the differences are shown.",
    "Each operand is a capture or a saved result (JSON of 'loadside measure') of one unit; a saved result that holds "
    "several captures stands for as many units. Headerless samples are measured first, and their result saved.",
    "Exit status: 0 no unit stands out for the worse, 1 one does, 2 an error.",
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

static enum lds_status write(const void *found, struct target *to, struct lds_error *error)
{
    const struct tables *tables = found;
    return RESULTS_IN(to, lds_units_text(tables->table, tables->count, to->screen_options, stdout, error), LDS_BAD_USE,
                      lds_units_json(tables->table, tables->count, to->path, error),
                      lds_units_csv(tables->table, tables->count, to->path, error), LDS_BAD_USE);
}

static enum exit_status lay_side_by_side(const struct settings *settings, const struct measured *measured, bool good)
{
    struct lds_compare_options compare;
    struct tables tables = {0};
    struct lds_error error = {0};
    bool worse = false;
    lds_compare_options_init(&compare);
    memcpy(compare.matters_db, settings->matters.db, sizeof compare.matters_db);
    if (lds_compare_units((struct lds_side){measured->measurement, measured->count}, settings->channels, &compare,
                          &tables.table, &tables.count, &error) == LDS_OK) {
        for (size_t i = 0; i < tables.count; i++)
            worse = worse || tables.table[i].worse;
        good = results_write(&settings->common, write, &tables) && good;
        lds_unit_tables_free(tables.table, tables.count);
    } else {
        say("units", "%s", error.message);
        good = false;
    }
    return !good ? EXIT_TROUBLE : worse ? EXIT_WORSE : EXIT_DONE;
}

static enum exit_status measure_units(const struct settings *settings, int count, char *const *paths)
{
    struct sources sources;
    struct measured measured = {0};
    enum exit_status status = EXIT_TROUBLE;
    if (sources_open(&sources, &settings->common, count, paths)) {
        bool measured_all = sources_measure(&sources, 0, sources.count, &measured);
        bool good = measured_all && chains_apply(&sources.chains, &measured) && sources.good;
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
    return status;
}

static enum exit_status run_units(const void *settings, int operands, char **operand)
{
    const struct common *common = settings;
    if (operands == 0) {
        say("units", "no capture found; two at least expected; name the captures or saved results of the units");
        return EXIT_TROUBLE;
    }
    if (!common_check(common) || !common_check_paths(common, operands, operand, "a capture"))
        return EXIT_TROUBLE;
    return measure_units(settings, operands, operand);
}

const struct command units_command = {
    .name = "units",
    .operands = "CAPTURE CAPTURE...",
    .summary = "figures of several units side by side, and which unit stands out",
    .text = text,
    .caution = common_caution,
    .options = options,
    .examples = examples,
    .settings = sizeof(struct settings),
    .run = run_units,
};
