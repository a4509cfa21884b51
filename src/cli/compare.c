/* loadside compare: what changed from before to after. */
#include <math.h>
#include <stddef.h>
#include <stdio.h>
#include <string.h>

#include "command.h"
#include "common.h"
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

#define PLACE(member) offsetof(struct settings, member)

static const char *const none_word[] = {"none", NULL};

static const struct option_row own_options[] = {
    {.group = "The sides, each one capture or several",
     FILES_OPTION("before", PLACE(before), "before-1.wav", "capture or saved result from before, in place of BEFORE")},
    {FILES_OPTION("after", PLACE(after), "after-1.wav", "capture or saved result from after, in place of AFTER")},
    {.group = "What counts as a change",
     FAMILIES_OPTION("repeatability", PLACE(repeatability), 0.0, 20.0, "noise=0.2",
                     "standard uncertainty from capture to capture, in place of the bench file's; none leaves it out"),
     .words = none_word},
    {FAMILIES_OPTION("matters", PLACE(matters), 0.001, 60.0, "distortion=2", "smallest change that matters")},
    {FILE_OPTION("limits", "FILE", PLACE(limits), "limits.ini",
                 "limits for figures: each is within, over, or not shown")},
    {0},
};

static const struct option_row *const options[] = {own_options,
                                                   common_bench_options,
                                                   common_what_options,
                                                   common_headerless_options,
                                                   common_view_options,
                                                   common_result_options,
                                                   common_plot_options,
                                                   common_last_options,
                                                   NULL};

static const char *const text[] = {
    "Compares captures of one amplifier from before and after a modification, and says of each figure whether it is "
    "lower, higher or the same, with the size of the change and its 95 % interval, or that this is uncertain, and what "
    "would decide it. The answer comes first, in a sentence or two for each channel, then the figures that carry it; "
    "--full prints all of them.",
    "BEFORE and AFTER are captures or saved results (JSON of 'loadside measure'). Several a side, with the cables "
    "connected anew each time, show the effect of cabling and warming up: three or more a side replace every "
    "assumption about it. Captures that reach different frequencies are measured up to where all of them reach.",
    "Exit status: 0 nothing is worse and nothing over a limit, 1 something is, 2 an error.",
    NULL,
};

static const struct example examples[] = {
    {"loadside compare --bench bench.ini before.wav after.wav", "one capture from before and one from after"},
    {"loadside compare --before b1.wav --before b2.wav --after a1.wav --after a2.wav",
     "more than one a side; with three or more, the scatter between captures is measured, not assumed"},
    {"loadside compare --limits limits.ini --plots plots before.json after.json",
     "from saved results, with limits and pictures"},
    {0},
};

/* ---- what is compared ---- */

/* The files of both sides, those before first; returns how many. */
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
    struct sources sources; /* those before first */
    struct measured before, after;
    bool good; /* every file could be read and measured */
};

static void work_free(struct work *work)
{
    sources_close(&work->sources);
    measured_free(&work->before);
    measured_free(&work->after);
}

/* good: no error was reported for the files that were named. */
static bool has_something(const char *side, const struct measured *measured, bool good)
{
    return measured->count > 0 ||
           (good && say(side, "nothing on this side can be compared; one capture or saved result at least expected; "
                              "name one that can be read"));
}

static bool measure_sides(struct work *work, const struct settings *settings)
{
    struct sources *sources = &work->sources;
    char *paths[2 * FILES_MAX];
    int count = input_paths(settings, paths);
    size_t before = settings->before.count;
    if (!sources_open(sources, &settings->common, count, paths))
        return false;
    work->good = sources_measure(sources, 0, before, &work->before);
    work->good &= sources_measure(sources, before, sources->count, &work->after);
    work->good &= sources->good;
    return has_something("before", &work->before, work->good) && has_something("after", &work->after, work->good) &&
           chains_apply(&sources->chains, &work->before) && chains_apply(&sources->chains, &work->after);
}

static bool check_limits(const char *path, const struct lds_limits *limits, const struct measured *measured)
{
    struct lds_error error = {0};
    return say_unless(lds_limits_check(limits, path, measured->measurement, measured->count, &error), path, &error);
}

static void fill_options(const struct settings *settings, const struct lds_limits *limits,
                         struct lds_compare_options *compare)
{
    lds_compare_options_init(compare);
    memcpy(compare->repeat_db, settings->repeatability.db, sizeof compare->repeat_db);
    memcpy(compare->matters_db, settings->matters.db, sizeof compare->matters_db);
    compare->repeat_none = settings->repeatability.none;
    compare->limit = limits->limit;
    compare->limits = limits->count;
}

/* ---- results ---- */

struct found {
    struct lds_comparison comparison;
    struct lds_side before, after;
};

static enum lds_status write(const void *found, struct target *to, struct lds_error *error)
{
    const struct found *all = found;
    return RESULTS_IN(
        to, lds_comparison_screen(&all->comparison, to->screen_options, stdout, error),
        lds_comparison_text(&all->comparison, stdout, error), lds_comparison_json(&all->comparison, to->path, error),
        lds_comparison_csv(&all->comparison, to->path, error),
        lds_comparison_plots(&all->comparison, all->before, all->after, to->path, to->plot_options, &to->drawn, error));
}

static enum exit_status compare_work(struct work *work, const struct settings *settings,
                                     const struct lds_limits *limits)
{
    struct lds_compare_options compare;
    struct lds_error error = {0};
    struct found found = {.before = {work->before.measurement, work->before.count},
                          .after = {work->after.measurement, work->after.count}};
    fill_options(settings, limits, &compare);
    enum lds_status status = lds_compare(found.before, found.after, &compare, &found.comparison, &error);
    if (status == LDS_OK && work->sources.farthest_hz > work->sources.end_hz * (1.0 + 1e-9))
        status = lds_comparison_note_end(&found.comparison, work->sources.end_hz, &error);
    bool good = status == LDS_OK ? results_write(&settings->common, write, &found) && work->good
                                 : say("compare", "%s", error.message);
    bool worse = found.comparison.worse;
    lds_comparison_free(&found.comparison);
    return !good ? EXIT_TROUBLE : worse ? EXIT_WORSE : EXIT_DONE;
}

static enum exit_status compare_sides(const struct settings *settings)
{
    struct lds_limits limits = {0};
    struct work work = {0};
    struct lds_error error = {0};
    const char *path = settings->limits;
    bool good = (!path || say_unless(lds_limits_read(path, &limits, &error), path, &error)) &&
                measure_sides(&work, settings) && check_limits(path, &limits, &work.before) &&
                check_limits(path, &limits, &work.after);
    enum exit_status status = good ? compare_work(&work, settings, &limits) : EXIT_TROUBLE;
    work_free(&work);
    lds_limits_free(&limits);
    return status;
}

/* ---- the command line ---- */

/* Two operands mean one --before and one --after. */
static bool take_operands(struct settings *settings, int count, char *const *operands)
{
    bool named = settings->before.count > 0 || settings->after.count > 0;
    if (named && count > 0)
        return say(operands[0],
                   "an operand found beside --before and --after; one way of naming the sides expected; put "
                   "--before or --after in front of it");
    if (named && (settings->before.count == 0 || settings->after.count == 0))
        return say(settings->before.count == 0 ? "--before" : "--after",
                   "no file found; at least one on each side expected; add it");
    if (!named && count != 2)
        return say("compare",
                   "%d operands found; two expected, BEFORE and AFTER; for more on a side, --before FILE and --after "
                   "FILE",
                   count);
    if (!named) {
        settings->before = (struct file_list){{operands[0]}, 1};
        settings->after = (struct file_list){{operands[1]}, 1};
    }
    return true;
}

static bool check_settings(const struct settings *settings)
{
    for (size_t i = 0; family_words[i]; i++)
        if (settings->repeatability.none && !isnan(settings->repeatability.db[family_of_word[i]]))
            return say("--repeatability", "both none and %s found; one of them expected; leave the other out",
                       family_words[i]);
    char *paths[2 * FILES_MAX + 1];
    int count = input_paths(settings, paths);
    if (settings->limits)
        paths[count++] = (char *)(uintptr_t)settings->limits;
    return common_check(&settings->common) && common_check_paths(&settings->common, count, paths, "a capture");
}

static enum exit_status run_compare(const void *chosen, int operands, char **operand)
{
    struct settings settings = *(const struct settings *)chosen;
    if (!take_operands(&settings, operands, operand) || !check_settings(&settings))
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
    .settings = sizeof(struct settings),
    .run = run_compare,
};
