/* loadside ledger: units over the years, from the stored jobs. */
#include <math.h>
#include <stddef.h>
#include <stdio.h>

#include "command.h"
#include "common.h"
#include "results.h"
#include "say.h"
#include "sources.h"

struct settings {
    struct common common;
    const char *standing; /* a capture, or its saved result */
};

_Static_assert(offsetof(struct settings, common) == 0, "the rows of common.h count from the beginning");

#define PLACE(member) offsetof(struct settings, member)

static const struct option_row own_options[] = {
    {.group = "A capture among its kind",
     FILE_OPTION("standing", "CAPTURE", PLACE(standing), "new.json",
                 "measure it, or take its saved result, and show where it stands among the units of TYPE; the options "
                 "of the next two groups are for it")},
    {0},
};

static const struct option_row *const options[] = {
    own_options,           common_bench_options, common_what_options, common_keys_options,
    common_result_options, common_plot_options,  common_last_options, NULL};

static const char *const text[] = {
    "Reads a ledger, the one file in which 'loadside job --ledger' keeps the figures of every job. Without UNIT it "
    "lists the units. With one it shows what its main figures were at each job, before and after the work, and where "
    "the unit stands among all units of its make and type. JSON and CSV hold every figure.",
    "UNIT is a serial number, TYPE/SERIAL or MAKE/TYPE/SERIAL. A unit without serial number cannot be recognised "
    "again: each of its jobs is listed as a unit of its own, TYPE/DATE.",
    "With --standing the second operand is TYPE or MAKE/TYPE, and a capture that is not in the ledger is shown among "
    "the units of that type. With a tone it is a sine, else idle; the power of a sine is the one that the ledger "
    "states where the measured one is within 3 % of that. Load and sampling rate are its own. Nothing is added.",
    "The ledger is only read. One that is damaged, or of a newer version, is refused and not changed.",
    NULL,
};

static const struct example examples[] = {
    {"loadside ledger amplifiers.ledger", "the units in it"},
    {"loadside ledger --plots history amplifiers.ledger 'Sedge 25/0042'", "one unit over the years, with pictures"},
    {"loadside ledger --standing idle.wav --bench bench.ini amplifiers.ledger 'Sedge 25'",
     "a capture of today among all of that type"},
    {0},
};

struct list {
    struct lds_ledger_unit *unit;
    size_t units;
};

static enum lds_status write_units(const void *found, struct target *to, struct lds_error *error)
{
    const struct list *list = found;
    return RESULTS_IN(to, lds_ledger_units_text(list->unit, list->units, stdout, error), LDS_BAD_USE,
                      lds_ledger_units_json(list->unit, list->units, to->path, error),
                      lds_ledger_units_csv(list->unit, list->units, to->path, error), LDS_BAD_USE);
}

static enum lds_status write_history(const void *found, struct target *to, struct lds_error *error)
{
    return RESULTS_IN(to, lds_history_text(found, to->screen_options, stdout, error), LDS_BAD_USE,
                      lds_history_json(found, to->path, error), lds_history_csv(found, to->path, error),
                      lds_history_plots(found, to->path, to->plot_options, &to->drawn, error));
}

static bool show_history(const struct settings *settings, struct lds_ledger *ledger, const struct list *list,
                         const char *name)
{
    struct lds_ledger_history history;
    struct lds_error error = {0};
    const struct lds_ledger_unit *unit = lds_ledger_find(list->unit, list->units, name, &error);
    if (!unit)
        return say_about(name, error.message);
    bool good = (lds_ledger_history(ledger, unit, &history, &error) == LDS_OK || say("ledger", "%s", error.message)) &&
                results_write(&settings->common, write_history, &history);
    lds_ledger_history_free(&history);
    return good;
}

/* The standing of a capture is written only as a table. */
static enum lds_status write_standing(const void *found, struct target *to, struct lds_error *error)
{
    return RESULTS_IN(to, lds_standing_text(found, to->screen_options, stdout, error), LDS_BAD_USE, LDS_BAD_USE,
                      LDS_BAD_USE, LDS_BAD_USE);
}

static bool measure_one(const struct settings *settings, struct measured *measured)
{
    const struct common *common = &settings->common;
    struct lds_measure_options measure;
    struct measured chains = {0};
    struct source source = {0};
    bool good = common_measure_options(common, &measure) && source_open(&source, settings->standing, common) &&
                sources_check(common, source.capture != NULL) && chains_measure(common, &measure, INFINITY, &chains) &&
                source_measure(&source, common, &measure, INFINITY, measured) && chains_apply(&chains, measured);
    source_close(&source);
    measured_free(&chains);
    lds_bench_free(&measure.bench);
    return good && (measured->count == 1 ||
                    say_about(settings->standing,
                              "a saved result of several captures found; one expected; measure them one by one"));
}

static bool show_standing(const struct settings *settings, struct lds_ledger *ledger, const struct list *list,
                          const char *name)
{
    struct measured measured = {0};
    struct lds_ledger_history placed = {0};
    struct lds_error error = {0};
    const struct lds_ledger_unit *unit = lds_ledger_find_type(list->unit, list->units, name, &error);
    if (!unit)
        return say_about(name, error.message);
    bool good = measure_one(settings, &measured) &&
                (lds_ledger_place(ledger, unit->make, unit->type, measured.measurement, &placed, &error) == LDS_OK ||
                 say("ledger", "%s", error.message)) &&
                results_write(&settings->common, write_standing, &placed);
    lds_ledger_history_free(&placed);
    measured_free(&measured);
    return good;
}

static enum exit_status read_ledger(const struct settings *settings, const char *path, const char *name)
{
    struct lds_ledger *ledger;
    struct list list = {0};
    struct lds_error error = {0};
    bool good = false;
    if (!say_unless(lds_ledger_open(path, LDS_LEDGER_READ_ONLY, &ledger, &error), path, &error))
        return EXIT_TROUBLE;
    if (say_unless(lds_ledger_units(ledger, &list.unit, &list.units, &error), path, &error))
        good = settings->standing ? show_standing(settings, ledger, &list, name)
               : name             ? show_history(settings, ledger, &list, name)
                                  : results_write(&settings->common, write_units, &list);
    lds_ledger_units_free(list.unit, list.units);
    lds_ledger_close(ledger);
    return good ? EXIT_DONE : EXIT_TROUBLE;
}

/* Checks that --standing comes without options for other formats, and that without it no option for measuring is
 * given. */
static bool check_standing(const struct settings *settings, int count)
{
    const struct common *common = &settings->common;
    const char *measures = common->chain.count > 0 ? "--chain"
                           : common->channel > 0   ? "--channel"
                                                   : sources_option(common);
    const char *result = common->json ? "--json" : common->csv ? "--csv" : common->plots ? "--plots" : NULL;
    if (!settings->standing && measures)
        return say(measures, "no capture to measure found; one expected; add --standing CAPTURE, or leave it out");
    if (settings->standing && count != 2)
        return say("--standing", "no TYPE found; FILE TYPE expected; name the type after the ledger");
    if (settings->standing && result)
        return say(result, "found beside --standing, which prints a table alone; leave it out");
    char *const path = (char *)settings->standing;
    return !path || common_check_paths(common, 1, &path, "a capture");
}

static bool check_operands(const struct settings *settings, int count, char **operand)
{
    if (count < 1 || count > 2)
        return say("ledger", "%s found; FILE, or FILE UNIT expected; 'loadside ledger --help' explains them",
                   count < 1 ? "no ledger" : "more than two operands");
    if (!check_standing(settings, count))
        return false;
    if (settings->common.plots && count == 1)
        return say("--plots", "no UNIT found; the history of one unit is what is drawn; name it after the ledger");
    return common_check_paths(&settings->common, 1, operand, "the ledger");
}

static enum exit_status run_ledger(const void *chosen, int operands, char **operand)
{
    const struct settings *settings = chosen;
    if (!common_check(&settings->common) || !check_operands(settings, operands, operand))
        return EXIT_TROUBLE;
    return read_ledger(settings, operand[0], operands == 2 ? operand[1] : NULL);
}

const struct command ledger_command = {
    .name = "ledger",
    .operands = "FILE [UNIT|TYPE]",
    .summary = "history of units from stored jobs, and where one stands among others of its type",
    .text = text,
    .options = options,
    .examples = examples,
    .settings = sizeof(struct settings),
    .run = run_ledger,
};
