/* loadside compare: what changed from before to after. */
#include <math.h>
#include <stddef.h>
#include <stdio.h>

#include "command.h"
#include "common.h"
#include "describe.h"
#include "results.h"
#include "say.h"
#include "sources.h"

struct settings {
    struct common common;
    struct file_list before, after;
    struct family_list repeatability, matters;
    const char *limits;
};

_Static_assert(offsetof(struct settings, common) == 0, "the rows of common.h count from the beginning");

#define PLACE(member) .place = offsetof(struct settings, member)

static const char *const none_word[] = {"none", NULL};

static const struct option_row options[] = {
    {.group = "The sides, each one capture or several",
     .name = "before",
     .argument = "FILE",
     .kind = OPTION_FILES,
     PLACE(before),
     .example = "before-1.wav",
     .help = "capture or saved result from before, in place of BEFORE"},
    {.name = "after",
     .argument = "FILE",
     .kind = OPTION_FILES,
     PLACE(after),
     .example = "after-1.wav",
     .help = "capture or saved result from after, in place of AFTER"},
    {.group = "What counts as a change",
     .name = "repeatability",
     .argument = "FAMILY=DB",
     .kind = OPTION_FAMILIES,
     PLACE(repeatability),
     .least = 0.0,
     .most = 20.0,
     .words = none_word,
     .example = "noise=0.2",
     .help = "standard uncertainty from capture to capture, in place of the bench file's; none leaves it out"},
    {.name = "matters",
     .argument = "FAMILY=DB",
     .kind = OPTION_FAMILIES,
     PLACE(matters),
     .least = 0.001,
     .most = 60.0,
     .example = "distortion=2",
     .help = "smallest change that matters"},
    {.name = "limits",
     .argument = "FILE",
     .kind = OPTION_FILE,
     PLACE(limits),
     .example = "limits.ini",
     .help = "what figures must keep to, each within, over, or not shown"},
    COMMON_BENCH_OPTIONS,
    COMMON_WHAT_OPTIONS,
    COMMON_HEADERLESS_OPTIONS,
    COMMON_RESULT_OPTIONS,
    COMMON_PLOT_OPTIONS,
    COMMON_LAST_OPTIONS,
};

static const char *const text[] = {
    "Compares captures of one amplifier from before and after a modification, and says of each figure whether it is "
    "lower, higher or the same, with the size of the change and its 95 % interval, or that this cannot be told, and "
    "what would settle it.",
    "BEFORE and AFTER are captures or saved results (JSON of 'loadside measure'). Several a side, cabled anew each "
    "time, show what cabling and warming up do: three or more a side take the place of every assumption about it. "
    "Captures that reach to different frequencies are measured up to where all of them reach.",
    "Exit status: 0 nothing is worse and nothing over a limit, 1 something is, 2 trouble.",
    NULL,
};

static const struct example examples[] = {
    {"loadside compare --bench bench.ini before.wav after.wav", "one capture from before and one from after"},
    {"loadside compare --before b1.wav --before b2.wav --after a1.wav --after a2.wav",
     "more than one a side; from three on, the scatter between captures is seen, not assumed"},
    {"loadside compare --limits limits.ini --plots plots before.json after.json",
     "from saved results, with limits and pictures"},
    {0},
};

/* ---- what is compared ---- */

/* The files of both sides, those of before first; how many. */
static int input_paths(const struct settings *settings, char *paths[2 * FILES_MAX])
{
    int count = 0;
    for (size_t i = 0; i < settings->before.count; i++)
        paths[count++] = (char *)(uintptr_t)settings->before.path[i];
    for (size_t i = 0; i < settings->after.count; i++)
        paths[count++] = (char *)(uintptr_t)settings->after.path[i];
    return count;
}

struct work {
    struct sources sources; /* those of before first */
    struct measured before, after, chains;
    bool good; /* every file could be read and measured */
};

static void work_free(struct work *work)
{
    sources_close(&work->sources);
    measured_free(&work->before);
    measured_free(&work->after);
    measured_free(&work->chains);
}

/* good: of the files that were named, no fault was told. */
static bool has_something(const char *side, const struct measured *measured, bool good)
{
    if (measured->count > 0 || !good)
        return measured->count > 0;
    say(side, "nothing on this side can be compared; one capture or saved result at least expected; name one that can "
              "be read");
    return false;
}

static bool measure_sides(struct work *work, const struct settings *settings, struct lds_measure_options *measure)
{
    const struct common *common = &settings->common;
    struct sources *sources = &work->sources;
    char *paths[2 * FILES_MAX];
    int count = input_paths(settings, paths);
    size_t before = settings->before.count;
    if (!sources_open(sources, common, &measure->bench, count, paths) ||
        !chains_measure(common, measure, sources->end_hz, &work->chains))
        return false;
    work->good = sources_measure(sources, common, measure, 0, before, &work->before);
    work->good &= sources_measure(sources, common, measure, before, sources->count, &work->after);
    work->good &= sources->good;
    return has_something("before", &work->before, work->good) && has_something("after", &work->after, work->good) &&
           chains_apply(&work->chains, &work->before) && chains_apply(&work->chains, &work->after);
}

static bool read_limits(const char *path, struct lds_limits *limits)
{
    struct lds_error error = {0};
    bool good = lds_limits_read(path, limits, &error) == LDS_OK;
    if (!good)
        say_about(path, error.message);
    return good;
}

static bool check_limits(const char *path, const struct lds_limits *limits, const struct measured *measured)
{
    struct lds_error error = {0};
    bool good = lds_limits_check(limits, path, measured->measurement, measured->count, &error) == LDS_OK;
    if (!good)
        say_about(path, error.message);
    return good;
}

static void fill_options(const struct settings *settings, const struct lds_limits *limits,
                         struct lds_compare_options *compare)
{
    lds_compare_options_init(compare);
    for (int i = 0; i < LDS_FAMILIES; i++) {
        compare->repeat_db[i] = settings->repeatability.db[i];
        compare->matters_db[i] = settings->matters.db[i];
    }
    compare->repeat_none = settings->repeatability.none;
    compare->limit = limits->limit;
    compare->limits = limits->count;
}

/* ---- results ---- */

struct found {
    struct lds_comparison comparison;
    struct lds_side before, after;
};

static enum lds_status write_text(const void *context, FILE *out, struct lds_error *error)
{
    const struct found *found = context;
    return lds_comparison_text(&found->comparison, out, error);
}

static enum lds_status write_json(const void *context, const char *path, struct lds_error *error)
{
    const struct found *found = context;
    return lds_comparison_json(&found->comparison, path, error);
}

static enum lds_status write_csv(const void *context, const char *path, struct lds_error *error)
{
    const struct found *found = context;
    return lds_comparison_csv(&found->comparison, path, error);
}

static enum lds_status write_plots(const void *context, const char *folder, unsigned wanted, int *drawn,
                                   struct lds_error *error)
{
    const struct found *found = context;
    return lds_comparison_plots(&found->comparison, found->before, found->after, folder, wanted, drawn, error);
}

static enum exit_status compare_work(struct work *work, const struct settings *settings,
                                     const struct lds_limits *limits)
{
    struct lds_compare_options compare;
    struct lds_error error = {0};
    struct found found = {.before = {work->before.measurement, work->before.count},
                          .after = {work->after.measurement, work->after.count}};
    bool good = work->good;
    bool worse = false;
    fill_options(settings, limits, &compare);
    enum lds_status status = lds_compare(found.before, found.after, &compare, &found.comparison, &error);
    if (status == LDS_OK && work->sources.farthest_hz > work->sources.end_hz * (1.0 + 1e-9))
        status = lds_comparison_note_end(&found.comparison, work->sources.end_hz, &error);
    if (status == LDS_OK) {
        worse = found.comparison.worse;
        good = results_write(&settings->common,
                             &(struct results){&found, write_text, write_json, write_csv, write_plots}) &&
               good;
    } else {
        say("compare", "%s", error.message);
        good = false;
    }
    lds_comparison_free(&found.comparison);
    return !good ? EXIT_TROUBLE : worse ? EXIT_WORSE : EXIT_DONE;
}

static enum exit_status compare_sides(const struct settings *settings)
{
    struct lds_limits limits = {0};
    struct lds_measure_options measure;
    struct work work = {0};
    enum exit_status status = EXIT_TROUBLE;
    bool good = !settings->limits || read_limits(settings->limits, &limits);
    if (good) {
        good = common_measure_options(&settings->common, &measure) && measure_sides(&work, settings, &measure) &&
               check_limits(settings->limits, &limits, &work.before) &&
               check_limits(settings->limits, &limits, &work.after);
        if (good)
            status = compare_work(&work, settings, &limits);
        work_free(&work);
        lds_bench_free(&measure.bench);
    }
    lds_limits_free(&limits);
    return status;
}

/* ---- the command line ---- */

/* Two operands stand for one --before and one --after. */
static bool take_operands(struct settings *settings, int count, char *const *operands)
{
    bool named = settings->before.count > 0 || settings->after.count > 0;
    if (named && count > 0) {
        say(operands[0], "an operand found beside --before and --after; one way of naming the sides expected; put "
                         "--before or --after in front of it");
        return false;
    }
    if (named && (settings->before.count == 0 || settings->after.count == 0)) {
        say(settings->before.count == 0 ? "--before" : "--after",
            "no file found; at least one on each side expected; add it");
        return false;
    }
    if (!named && count != 2) {
        say("compare",
            "%d operands found; two expected, BEFORE and AFTER; for more on a side, --before FILE and --after "
            "FILE",
            count);
        return false;
    }
    if (!named) {
        settings->before = (struct file_list){{operands[0]}, 1};
        settings->after = (struct file_list){{operands[1]}, 1};
    }
    return true;
}

static bool check_settings(const struct settings *settings)
{
    for (size_t i = 0; family_words[i]; i++)
        if (settings->repeatability.none && !isnan(settings->repeatability.db[family_of_word[i]])) {
            say("--repeatability", "both none and %s found; one of them expected; leave the other out",
                family_words[i]);
            return false;
        }
    char *paths[2 * FILES_MAX + 1];
    int count = input_paths(settings, paths);
    if (settings->limits)
        paths[count++] = (char *)(uintptr_t)settings->limits;
    return common_check(&settings->common) && common_check_paths(&settings->common, count, paths);
}

static enum exit_status run_compare(int argc, char **argv)
{
    struct settings settings = {0};
    int operand = argc;
    common_init(&settings.common);
    for (int i = 0; i < LDS_FAMILIES; i++)
        settings.repeatability.db[i] = settings.matters.db[i] = NAN;
    switch (options_parse(&compare_command, argc, argv, &settings, &operand)) {
    case PARSED_BAD:
        return EXIT_TROUBLE;
    case PARSED_HELP:
        describe_help(&compare_command, stdout);
        return EXIT_DONE;
    case PARSED:
        break;
    }
    if (!take_operands(&settings, argc - operand, argv + operand) || !check_settings(&settings))
        return EXIT_TROUBLE;
    return compare_sides(&settings);
}

const struct command compare_command = {
    .name = "compare",
    .operands = "BEFORE AFTER",
    .summary = "what changed from before to after, what did not, and what cannot be told",
    .text = text,
    .caution = common_caution,
    .options = options,
    .examples = examples,
    .run = run_compare,
};
