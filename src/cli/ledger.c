/* loadside ledger: units over the years, from the jobs that were kept. */
#include <stddef.h>
#include <stdio.h>

#include "command.h"
#include "common.h"
#include "describe.h"
#include "output.h"
#include "results.h"
#include "say.h"

struct settings {
    struct common common;
};

_Static_assert(offsetof(struct settings, common) == 0, "the rows of common.h count from the beginning");

static const struct option_row options[] = {
    COMMON_RESULT_OPTIONS,
    COMMON_PLOT_OPTIONS,
    {.name = "quiet", .kind = OPTION_SWITCH, COMMON(quiet), .help = "no table"},
    {.group = "How", .name = "help", .kind = OPTION_HELP, .help = "print this help"},
    {0},
};

static const char *const text[] = {
    "Reads a ledger, the one file in which 'loadside job --ledger' keeps the figures of every job. Without UNIT it "
    "lists "
    "the units. With one it shows what its main figures were at each job, before and after the work, and where the "
    "unit "
    "stands among all units of its make and type. JSON and CSV hold every figure.",
    "UNIT is a serial number, TYPE/SERIAL or MAKE/TYPE/SERIAL. A unit without serial number cannot be known again: "
    "each "
    "of its jobs is listed as a unit of its own, TYPE/DATE.",
    "The ledger is only read. One that is damaged, or of a newer version, is refused and left as it is.",
    NULL,
};

static const struct example examples[] = {
    {"loadside ledger amplifiers.ledger", "the units in it"},
    {"loadside ledger --plots history amplifiers.ledger 'Sedge 25/0042'", "one unit over the years, with pictures"},
    {0},
};

struct list {
    struct lds_ledger_unit *unit;
    size_t units;
};

static enum lds_status write_units_text(const void *context, FILE *out, struct lds_error *error)
{
    const struct list *list = context;
    return lds_ledger_units_text(list->unit, list->units, out, error);
}

static enum lds_status write_units_json(const void *context, const char *path, struct lds_error *error)
{
    const struct list *list = context;
    return lds_ledger_units_json(list->unit, list->units, path, error);
}

static enum lds_status write_units_csv(const void *context, const char *path, struct lds_error *error)
{
    const struct list *list = context;
    return lds_ledger_units_csv(list->unit, list->units, path, error);
}

static enum lds_status write_text(const void *context, FILE *out, struct lds_error *error)
{
    return lds_history_text(context, out, error);
}

static enum lds_status write_json(const void *context, const char *path, struct lds_error *error)
{
    return lds_history_json(context, path, error);
}

static enum lds_status write_csv(const void *context, const char *path, struct lds_error *error)
{
    return lds_history_csv(context, path, error);
}

static enum lds_status write_plots(const void *context, const char *folder, unsigned plot_options, int *drawn,
                                   struct lds_error *error)
{
    return lds_history_plots(context, folder, plot_options, drawn, error);
}

static bool show_history(const struct settings *settings, struct lds_ledger *ledger, const struct list *list,
                         const char *name)
{
    struct lds_ledger_history history;
    struct lds_error error = {0};
    const struct lds_ledger_unit *unit = lds_ledger_find(list->unit, list->units, name, &error);
    if (!unit) {
        say_about(name, error.message);
        return false;
    }
    bool good = lds_ledger_history(ledger, unit, &history, &error) == LDS_OK;
    if (good)
        good = results_write(&settings->common,
                             &(struct results){&history, write_text, write_json, write_csv, write_plots});
    else
        say("ledger", "%s", error.message);
    lds_ledger_history_free(&history);
    return good;
}

static enum exit_status read_ledger(const struct settings *settings, const char *path, const char *name)
{
    struct lds_ledger *ledger;
    struct list list = {0};
    struct lds_error error = {0};
    bool good = false;
    if (lds_ledger_open(path, LDS_LEDGER_READ_ONLY, &ledger, &error) != LDS_OK) {
        say_about(path, error.message);
        return EXIT_TROUBLE;
    }
    if (lds_ledger_units(ledger, &list.unit, &list.units, &error) != LDS_OK)
        say_about(path, error.message);
    else if (name)
        good = show_history(settings, ledger, &list, name);
    else
        good = results_write(&settings->common,
                             &(struct results){&list, write_units_text, write_units_json, write_units_csv, NULL});
    lds_ledger_units_free(list.unit, list.units);
    lds_ledger_close(ledger);
    return good ? EXIT_DONE : EXIT_TROUBLE;
}

static bool check_operands(const struct settings *settings, int count, char **operand)
{
    if (count < 1 || count > 2) {
        say("ledger", "%s found; FILE, or FILE UNIT expected; 'loadside ledger --help' explains them",
            count < 1 ? "no ledger" : "more than two operands");
        return false;
    }
    if (settings->common.plots && count == 1) {
        say("--plots", "no UNIT found; the history of one unit is what is drawn; name it after the ledger");
        return false;
    }
    const char *const results[] = {settings->common.json, settings->common.csv}, *const subjects[] = {"--json",
                                                                                                      "--csv"};
    for (int i = 0; i < 2; i++) {
        if (!results[i])
            continue;
        if (!output_check_file(subjects[i], results[i]))
            return false;
        if (output_same_file(results[i], operand[0])) {
            say(subjects[i], "'%s' is the ledger, which would be lost; another file expected; name one", results[i]);
            return false;
        }
    }
    return !settings->common.plots || output_check_folder("--plots", settings->common.plots);
}

static enum exit_status run_ledger(int argc, char **argv)
{
    struct settings settings = {0};
    int operand = argc;
    common_init(&settings.common);
    switch (options_parse(&ledger_command, argc, argv, &settings, &operand)) {
    case PARSED_BAD:
        return EXIT_TROUBLE;
    case PARSED_HELP:
        describe_help(&ledger_command, stdout);
        return EXIT_DONE;
    case PARSED:
        break;
    }
    if (!common_check(&settings.common) || !check_operands(&settings, argc - operand, argv + operand))
        return EXIT_TROUBLE;
    return read_ledger(&settings, argv[operand], argc - operand == 2 ? argv[operand + 1] : NULL);
}

const struct command ledger_command = {
    .name = "ledger",
    .operands = "FILE [UNIT]",
    .summary = "history of units kept by jobs, and where one stands among its kind",
    .text = text,
    .options = options,
    .examples = examples,
    .run = run_ledger,
};
