/* loadside measure: figures of each capture. */
#include <math.h>
#include <stddef.h>
#include <stdio.h>

#include "command.h"
#include "common.h"
#include "results.h"
#include "say.h"
#include "sources.h"

static const struct option_row *const options[] = {
    common_bench_options,  common_what_options, common_headerless_options, common_view_options,
    common_result_options, common_plot_options, common_last_options,       NULL};

static const char *const text[] = {
    "Measures each capture, a recording of an amplifier's output across a load resistor, and prints its figures with "
    "95 % intervals on one screen a channel: first whether the capture can be trusted, then level and power, "
    "distortion, noise, hum and other lines, and notes by number. --full prints every figure and line; --keys shows "
    "the key of each figure, as limits and JSON have it.",
    "A capture is a WAV, RF64, W64, AIFF, FLAC, CAF or MAT file, a CSV file of time and volts, or headerless samples. "
    "The name - is standard input. A result saved with --json can be used in place of a capture: its figures are "
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
    {"loadside measure --tone 0 --band 100k-500k idle.wav", "noise of an idle output, to high frequencies too"},
    {0},
};

/* Measures what can be measured; false if something could not. captures: counts the inputs that were not saved
 * results. */
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
            good = results_write(common, results_of_captures, &measured) && good;
    }
    measured_free(&measured);
    measured_free(&chains);
    lds_bench_free(&measure.bench);
    return good ? EXIT_DONE : EXIT_TROUBLE;
}

static enum exit_status run_measure(const void *settings, int operands, char **operand)
{
    const struct common *common = settings;
    if (operands == 0) {
        say("measure", "no capture found; at least one expected; name a file, or - for standard input");
        return EXIT_TROUBLE;
    }
    if (!common_check(common) || !common_check_paths(common, operands, operand, "a capture"))
        return EXIT_TROUBLE;
    return measure_captures(common, operands, operand);
}

const struct command measure_command = {
    .name = "measure",
    .operands = "CAPTURE...",
    .summary = "figures of each capture: trust, level, distortion, noise, mains, spurs",
    .text = text,
    .caution = common_caution,
    .options = options,
    .examples = examples,
    .settings = sizeof(struct common),
    .run = run_measure,
};
