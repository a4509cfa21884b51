/* loadside measure: figures of each capture. */
#include <math.h>
#include <stddef.h>
#include <stdio.h>

#include "command.h"
#include "common.h"
#include "describe.h"
#include "results.h"
#include "say.h"
#include "sources.h"

static const struct option_row options[] = {
    COMMON_BENCH_OPTIONS,  COMMON_WHAT_OPTIONS, COMMON_HEADERLESS_OPTIONS,
    COMMON_RESULT_OPTIONS, COMMON_PLOT_OPTIONS, COMMON_LAST_OPTIONS,
};

static const char *const text[] = {
    "Measures each capture, a recording of an amplifier's output across a load resistor, and prints its figures with "
    "95 % intervals: first whether the capture can be trusted, then level and power, distortion, noise, mains and "
    "spurs.",
    "A capture is a WAV, RF64, W64, AIFF, FLAC, CAF or MAT file, a CSV file of time and volts, or headerless samples. "
    "The name - is standard input. A result that --json saved may stand in place of a capture: its figures are "
    "printed again. Without --full-scale, from here or the bench file, levels are in dBFS, and there "
    "are no volts and watts.",
    "Values may have SI prefixes and units: 8, '8 ohm', '500 kHz', 20-20k.",
    NULL,
};

static const struct example examples[] = {
    {"loadside measure --full-scale 2 --attenuation 10 --load 8 before.wav",
     "a capture through a 10:1 divider, from a card that reads full scale at 2 V peak"},
    {"loadside measure --bench bench.ini --json before.json --plots plots before.wav",
     "the same bench from a file, with JSON and plots"},
    {"loadside measure --tone 0 --band 100k-500k idle.wav", "noise of an idle output, far up too"},
    {0},
};

static enum lds_status write_text(const void *context, FILE *out, struct lds_error *error)
{
    const struct measured *measured = context;
    return lds_report_text(measured->measurement, measured->count, out, error);
}

static enum lds_status write_json(const void *context, const char *path, struct lds_error *error)
{
    const struct measured *measured = context;
    return lds_report_json(measured->measurement, measured->count, path, error);
}

static enum lds_status write_csv(const void *context, const char *path, struct lds_error *error)
{
    const struct measured *measured = context;
    return lds_report_csv(measured->measurement, measured->count, path, error);
}

static enum lds_status write_plots(const void *context, const char *folder, unsigned wanted, int *drawn,
                                   struct lds_error *error)
{
    const struct measured *measured = context;
    return lds_report_plots(measured->measurement, measured->count, folder, wanted, drawn, error);
}

/* Measures what can be measured; false when something could not. captures counts those that were no saved results. */
static bool measure_all(const struct common *common, struct lds_measure_options *measure, int count, char *const *paths,
                        struct measured *measured, size_t *captures)
{
    bool good = true;
    for (int k = 0; k < count; k++) {
        struct source source;
        bool opened = source_open(&source, paths[k], common);
        *captures += !opened || source.capture;
        good = opened && source_measure(&source, common, measure, INFINITY, measured) && good;
        source_close(&source);
    }
    return good;
}

static enum exit_status measure_captures(const struct common *common, int count, char *const *paths)
{
    struct lds_measure_options measure;
    struct measured measured = {0}, chains = {0};
    size_t captures = 0;
    bool good = common_measure_options(common, &measure) && chains_measure(common, &measure, INFINITY, &chains);
    if (good) {
        good = measure_all(common, &measure, count, paths, &measured, &captures);
        good = chains_apply(&chains, &measured) && good;
        if (!sources_check(common, captures))
            good = false;
        else if (measured.count > 0)
            good =
                results_write(common, &(struct results){&measured, write_text, write_json, write_csv, write_plots}) &&
                good;
    }
    measured_free(&measured);
    measured_free(&chains);
    lds_bench_free(&measure.bench);
    return good ? EXIT_DONE : EXIT_TROUBLE;
}

static enum exit_status run_measure(int argc, char **argv)
{
    struct common common;
    int operand = argc;
    common_init(&common);
    switch (options_parse(&measure_command, argc, argv, &common, &operand)) {
    case PARSED_BAD:
        return EXIT_TROUBLE;
    case PARSED_HELP:
        describe_help(&measure_command, stdout);
        return EXIT_DONE;
    case PARSED:
        break;
    }
    if (operand == argc) {
        say("measure", "no capture found; at least one expected; name a file, or - for standard input");
        return EXIT_TROUBLE;
    }
    char *const *paths = argv + operand;
    const int count = argc - operand;
    if (!common_check(&common) || !common_check_paths(&common, count, paths))
        return EXIT_TROUBLE;
    return measure_captures(&common, count, paths);
}

const struct command measure_command = {
    .name = "measure",
    .operands = "CAPTURE...",
    .summary = "figures of each capture: trust, level, distortion, noise, mains, spurs",
    .text = text,
    .caution = common_caution,
    .options = options,
    .examples = examples,
    .run = run_measure,
};
