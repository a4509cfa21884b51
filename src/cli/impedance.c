/* loadside impedance: the source impedance of an output, from two loads. */
#include <math.h>
#include <stddef.h>
#include <stdio.h>

#include "command.h"
#include "common.h"
#include "results.h"
#include "say.h"
#include "sources.h"

struct settings {
    struct common common; /* the first member: see common.h */
    struct load_list loads;
    double tolerance_percent, damping_ohm; /* NAN: not given */
    const char *bench_b;
    struct family_list repeatability;
};

#define PLACE(member) offsetof(struct settings, member)

static const char *const none_word[] = {"none", NULL};

static const struct option_row own_options[] = {
    {.group = "The loads",
     OPTION_FIELDS("loads", "A,B", OPTION_LOADS, PLACE(loads),
                   "the loads in the order of the captures, in ohm, or open; a tolerance may follow each, as in "
                   "8:1%,1M; the load of each bench when not given"),
     .example = "8,open"},
    {QUANTITY_OPTION("tolerance", "PERCENT", PLACE(tolerance_percent), "%", 0.0, 50.0, "1 %",
                     "tolerance of each load that states none of its own, +-; that of the bench file when not given")},
    {QUANTITY_OPTION("damping-load", "OHM", PLACE(damping_ohm), "ohm", 0.1, 1e6, "4 ohm",
                     "the damping factor is this over the source impedance; 8 ohm when not given")},
    {FILE_OPTION("bench-b", "FILE", PLACE(bench_b), "bench-b.ini",
                 "bench file of the second capture, when it is another")},
    {FAMILIES_OPTION("repeatability", PLACE(repeatability), 0.0, 20.0, "level=0.005",
                     "standard uncertainty of the level from one capture to the other, in place of the bench file's; "
                     "none leaves it out"),
     .words = none_word},
    {0},
};

static const struct option_row what_options[] = {
    {.group = "What to measure",
     WHOLE_OPTION("channel", offsetof(struct common, channel), LDS_CHANNELS_MAX, "1", "that channel only")},
    {QUANTITY_OPTION("mains", "HZ", offsetof(struct common, mains_hz), "Hz", 10.0, 1000.0, "50 Hz",
                     "nominal mains frequency; found between 45 and 65 Hz when not given")},
    {FILE_OPTION("signal", "FILE", offsetof(struct common, signal), "tone.ini",
                 "what was played: the file that loadside signal wrote beside the WAV")},
    {QUANTITY_OPTION("tone", "HZ", offsetof(struct common, tone_hz), "Hz", 1.0, 5e6, "1 kHz",
                     "frequency of the test tone; found when not given")},
    {0},
};

static const struct option_row *const options[] = {
    own_options,         common_bench_options,  what_options,        common_headerless_options,
    common_view_options, common_result_options, common_last_options, NULL};

static const char *const text[] = {
    "Measures the source impedance of an output and the damping factor, from how much the level of a tone changes from "
    "one load to another: 20 mohm changes it by 0.02 dB between 8 ohm and open.",
    "One capture, during which the load is switched from the first to the second and back to the first (A-B-A), a few "
    "seconds or more each: the program finds the moments, takes a drift out, and tells an inductance from the phase. "
    "This is the way to measure small impedances.",
    "Two captures, the first with the first load, the second with the second: how much the level varies between "
    "captures counts (--repeatability), and without the phase the impedance is taken for a resistance. Saved results "
    "of 'loadside measure' may take their place.",
    "Two captures of a sweep, stated with --signal, give the impedance over frequency. Where player and recorder share "
    "a clock, as in one sound card, the phase counts too.",
    "Connect the recorder at the amplifier's own terminals: what is between it and the terminals counts as source "
    "impedance.",
    NULL,
};

static const char *const caution[] = {
    "Switch the load only at low power, with a switch or a plug made for the current, and never short the output: "
    "contacts arc, and an output may not survive a short. Some amplifiers, such as those with an output transformer, "
    "must not run without a load: use two loads they are made for. Load resistors get hot enough to burn.",
    NULL,
};

static const struct example examples[] = {
    {"loadside impedance --loads 8:1%,open switched.wav", "one capture: 8 ohm, open, 8 ohm again"},
    {"loadside impedance --loads 8,4 --tolerance 1% a.wav b.wav", "two captures: with 8 ohm and with 4 ohm"},
    {"loadside impedance --loads 8,4 --signal sweep.ini a.wav b.wav", "over frequency, from a sweep with each load"},
    {"loadside impedance --loads 8,open --json before.json switched.wav",
     "saved, to compare with a capture from after: loadside compare before.json after.json"},
    {0},
};

/* Takes what the user states about the loads and the level. */
static void take_options(const struct settings *s, struct lds_impedance_options *impedance)
{
    lds_impedance_options_init(impedance);
    for (int i = 0; i < 2; i++) {
        impedance->load[i] = s->loads.load[i];
        if (isnan(impedance->load[i].percent))
            impedance->load[i].percent = s->tolerance_percent;
    }
    if (!isnan(s->damping_ohm))
        impedance->damping_ohm = s->damping_ohm;
    impedance->repeat_db = s->repeatability.none ? 0.0 : s->repeatability.db[LDS_FAMILY_LEVEL];
}

/* Prints where the uncertainty of two captures comes from. */
static void print_repeat(const struct lds_impedance_options *impedance, const struct measured *measured)
{
    const struct lds_bench *const bench[2] = {&measured->measurement[0].bench, &measured->measurement[1].bench};
    const double db = lds_impedance_repeat_db(impedance, bench);
    char line[400];
    if (!(db > 0.0))
        return;
    snprintf(line, sizeof line,
             "Between two captures the level may change by itself: a standard uncertainty of %.3g dB each counts "
             "(--repeatability). One capture, switched from the first load to the second and back, is free of it.",
             db);
    putchar('\n');
    describe_paragraph(line, stdout);
}

static bool is_shown(const struct common *common)
{
    return !common->quiet && !is_standard(common->json) && !is_standard(common->csv);
}

static bool from_one(const struct settings *s, const struct lds_measure_options *measuring,
                     const struct lds_impedance_options *impedance, struct source *source, struct measured *measured)
{
    struct lds_error error = {0};
    if (!source->capture)
        return say(source->path,
                   "a saved result found; a capture in which the load was switched expected, or two results, one "
                   "for each load; name those");
    const enum lds_status status =
        lds_impedance_switched(source->capture, measuring, impedance, measured->measurement, &error);
    return say_unless(status, status == LDS_BAD_USE ? "--loads" : source->path, &error) &&
           results_write(&s->common, results_of_captures, measured);
}

static bool from_two(const struct settings *s, const struct lds_measure_options measuring[2],
                     const struct lds_impedance_options *impedance, const struct source source[2], char *const *paths,
                     struct measured *measured)
{
    const bool sweep = measuring[0].known.kind == LDS_SIGNAL_SWEEP; /* over frequency, from the captures themselves */
    struct lds_capture *const capture[2] = {source[0].capture, source[1].capture};
    const struct lds_measure_options *const both[2] = {&measuring[0], &measuring[1]};
    struct lds_error error = {0};
    int which = 0;
    if (measured->count != 2)
        return say(paths[0], "saved results with %zu captures in all found; one for each load expected; name those",
                   measured->count);
    if (sweep && !(capture[0] && capture[1]))
        return say("--signal",
                   "a sweep found with a saved result, which does not keep it; captures expected; name those");
    const enum lds_status status =
        sweep ? lds_impedance_sweeps(capture, both, impedance, measured->measurement, &which, &error)
              : lds_impedance_levels(measured->measurement, impedance, &which, &error);
    if (!say_unless(status, status == LDS_BAD_USE ? "--loads" : paths[which], &error) ||
        !results_write(&s->common, results_of_captures, measured))
        return false;
    if (is_shown(&s->common))
        print_repeat(impedance, measured);
    return true;
}

/* The options as they hold for one of the captures: the second may have a bench of its own. */
static bool measure_options(const struct settings *s, int which, struct lds_measure_options *measuring)
{
    struct common common = s->common;
    if (which > 0 && s->bench_b)
        common.bench = s->bench_b;
    return common_measure_options(&common, measuring);
}

static enum exit_status measure(const struct settings *s, int count, char *const *paths)
{
    struct lds_impedance_options impedance;
    struct lds_measure_options measuring[2];
    struct source source[2] = {{0}, {0}};
    struct measured measured = {0};
    bool good = true;
    take_options(s, &impedance);
    for (int i = 0; i < 2; i++)
        lds_measure_options_init(&measuring[i]);
    for (int i = 0; good && i < count; i++)
        good = measure_options(s, i, &measuring[i]) && source_open(&source[i], paths[i], &s->common) &&
               source_measure(&source[i], &s->common, &measuring[i], INFINITY, &measured);
    if (good)
        good = count == 1 ? from_one(s, &measuring[0], &impedance, &source[0], &measured)
                          : from_two(s, measuring, &impedance, source, paths, &measured);
    for (int i = 0; i < 2; i++) {
        source_close(&source[i]);
        lds_bench_free(&measuring[i].bench);
    }
    measured_free(&measured);
    return good ? EXIT_DONE : EXIT_TROUBLE;
}

static enum exit_status run_impedance(const void *chosen, int operands, char **operand)
{
    const struct settings *settings = chosen;
    if (operands != 1 && operands != 2) {
        say("impedance", "%d captures found; one in which the load was switched, or two, expected; name them",
            operands);
        return EXIT_TROUBLE;
    }
    if (settings->bench_b && operands == 1) {
        say("--bench-b", "found with one capture; two expected; leave it out");
        return EXIT_TROUBLE;
    }
    if (!common_check(&settings->common) || !common_check_paths(&settings->common, operands, operand, "a capture"))
        return EXIT_TROUBLE;
    return measure(settings, operands, operand);
}

const struct command impedance_command = {
    .name = "impedance",
    .operands = "CAPTURE [CAPTURE]",
    .summary = "source impedance and damping factor, from two loads",
    .text = text,
    .caution = caution,
    .options = options,
    .examples = examples,
    .settings = sizeof(struct settings),
    .run = run_impedance,
};
