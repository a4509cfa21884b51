/* loadside measure: figures of each capture. */
#include <math.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "command.h"
#include "describe.h"
#include "output.h"
#include "progress.h"
#include "say.h"

struct settings {
    const char *bench;
    double full_scale_v, attenuation, load_ohm; /* NAN: not given */
    bool dc_coupled;
    int channel;
    struct band_list bands;
    double mains_hz, tone_hz; /* NAN: not given */
    const char *encoding;
    double rate_hz; /* NAN: not given */
    int channels;
    const char *json, *csv, *plots;
    bool pdf, quiet, no_progress;
    int threads;
};

static const char *const encodings[] = {"s8",    "u8",    "s16le", "s24le", "s32le", "f32le", "f64le",
                                        "s16be", "s24be", "s32be", "f32be", "f64be", NULL};

#define PLACE(member) .place = offsetof(struct settings, member)

static const struct option_row options[] = {
    {.group = "The bench, from the input back to the load",
     .name = "bench",
     .argument = "FILE",
     .kind = OPTION_FILE,
     PLACE(bench),
     .example = "bench.ini",
     .help = "bench file; the options below count over what it says"},
    {.name = "full-scale",
     .argument = "V",
     .kind = OPTION_QUANTITY,
     PLACE(full_scale_v),
     .unit = "V",
     .least = 1e-6,
     .most = 1e6,
     .example = "2 V",
     .help = "peak voltage at the input that reads full scale"},
    {.name = "attenuation",
     .argument = "N",
     .kind = OPTION_QUANTITY,
     PLACE(attenuation),
     .unit = "",
     .least = 1.0,
     .most = 1e6,
     .example = "10",
     .help = "voltage ratio of the divider between load and input; 1 when not given"},
    {.name = "load",
     .argument = "OHM",
     .kind = OPTION_QUANTITY,
     PLACE(load_ohm),
     .unit = "ohm",
     .least = 1e-3,
     .most = 1e6,
     .example = "8 ohm",
     .help = "load resistor, for power"},
    {.name = "dc-coupled",
     .kind = OPTION_SWITCH,
     PLACE(dc_coupled),
     .help = "the input passes DC, so the DC level means something"},
    {.group = "What to measure",
     .name = "channel",
     .argument = "N",
     .kind = OPTION_WHOLE,
     PLACE(channel),
     .least = 1,
     .most = LDS_CHANNELS_MAX,
     .example = "1",
     .help = "that channel only"},
    {.name = "band",
     .argument = "LO-HI",
     .kind = OPTION_BAND,
     PLACE(bands),
     .example = "400-30k",
     .help = "another band for noise, THD and THD+N, beside 20-20k"},
    {.name = "mains",
     .argument = "HZ",
     .kind = OPTION_QUANTITY,
     PLACE(mains_hz),
     .unit = "Hz",
     .least = 10.0,
     .most = 1000.0,
     .example = "50 Hz",
     .help = "nominal mains frequency; found between 45 and 65 Hz when not given"},
    {.name = "tone",
     .argument = "HZ",
     .kind = OPTION_QUANTITY,
     PLACE(tone_hz),
     .unit = "Hz",
     .least = 0.0,
     .most = 5e6,
     .example = "1 kHz",
     .help = "frequency of the test tone, 0 when there is none; found when not given"},
    {.group = "Headerless samples, interleaved",
     .name = "encoding",
     .argument = "NAME",
     .kind = OPTION_WORD,
     PLACE(encoding),
     .words = encodings,
     .example = "s24le",
     .help = "captures have no header and these samples"},
    {.name = "rate",
     .argument = "HZ",
     .kind = OPTION_QUANTITY,
     PLACE(rate_hz),
     .unit = "Hz",
     .least = 8e3,
     .most = 10e6,
     .example = "192 kHz",
     .help = "their sampling rate"},
    {.name = "channels",
     .argument = "N",
     .kind = OPTION_WHOLE,
     PLACE(channels),
     .least = 1,
     .most = LDS_CHANNELS_MAX,
     .example = "2",
     .help = "their number of channels"},
    {.group = "Results; a table on standard output when none of these says otherwise",
     .name = "json",
     .argument = "FILE",
     .kind = OPTION_FILE,
     PLACE(json),
     .example = "figures.json",
     .help = "write JSON too; alone on standard output when FILE is -"},
    {.name = "csv",
     .argument = "FILE",
     .kind = OPTION_FILE,
     PLACE(csv),
     .example = "figures.csv",
     .help = "write CSV too, a row a figure; alone on standard output when FILE is -"},
    {.name = "plots",
     .argument = "DIR",
     .kind = OPTION_FOLDER,
     PLACE(plots),
     .example = "plots",
     .help = "write gnuplot scripts, their data and pictures (PNG, SVG) into this folder"},
    {.name = "pdf", .kind = OPTION_SWITCH, PLACE(pdf), .help = "plots as PDF too"},
    {.name = "quiet", .kind = OPTION_SWITCH, PLACE(quiet), .help = "no table"},
    {.group = "How",
     .name = "no-progress",
     .kind = OPTION_SWITCH,
     PLACE(no_progress),
     .help = "do not show progress on a terminal"},
    {.name = "threads",
     .argument = "N",
     .kind = OPTION_WHOLE,
     PLACE(threads),
     .least = 1,
     .most = 1024,
     .example = "2",
     .help = "threads to work with; as many as the machine has when not given; figures do not depend on it"},
    {.name = "help", .kind = OPTION_HELP, .help = "print this help"},
    {0},
};

static const char *const text[] = {
    "Measures each capture, a recording of an amplifier's output across a load resistor, and prints its figures with "
    "95 % intervals: first whether the capture can be trusted, then level and power, distortion, noise, mains and "
    "spurs.",
    "A capture is a WAV, RF64, W64, AIFF, FLAC, CAF or MAT file, a CSV file of time and volts, or headerless samples. "
    "The name - is standard input. Without --full-scale, from here or the bench file, levels are in dBFS, and there "
    "are no volts and watts.",
    "Values may have SI prefixes and units: 8, '8 ohm', '500 kHz', 20-20k.",
    NULL,
};

static const char *const caution[] = {
    "Inside an amplifier, mains voltage and charged reservoir capacitors can kill, and load resistors get hot enough "
    "to burn. An output that is not ground-referenced (bridged) is shorted by the grounded input of a sound card.",
    "Tens of volts destroy a sound card's input: before connecting, work out whether the voltage fits. The highest "
    "sine "
    "power that fits is (full_scale*attenuation)^2/(2*load): 25 W with 2 V, a divider of 10:1 and 8 ohm.",
    "Local codes and qualified practice come first.",
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

static bool given(double value)
{
    return !isnan(value);
}

static bool is_standard(const char *path)
{
    return path && strcmp(path, "-") == 0;
}

/* What one option alone cannot know. */
static bool check_settings(const struct settings *settings)
{
    if (is_standard(settings->json) && is_standard(settings->csv)) {
        say("--csv", "both JSON and CSV to standard output found; one expected; write the other to a file");
        return false;
    }
    if (settings->json && settings->csv && output_same_file(settings->json, settings->csv)) {
        say("--csv", "'%s' found for both JSON and CSV; two files expected; name another", settings->csv);
        return false;
    }
    if (settings->pdf && !settings->plots) {
        say("--pdf", "no plots asked for; --plots DIR expected beside it; add that, or leave --pdf out");
        return false;
    }
    const bool rate = given(settings->rate_hz), channels = settings->channels > 0;
    if (settings->encoding && !(rate && channels)) {
        say("--encoding", "headerless samples without %s found; rate and channels expected; add %s",
            rate ? "--channels" : "--rate",
            rate       ? "--channels N"
            : channels ? "--rate HZ"
                       : "--rate HZ --channels N");
        return false;
    }
    if (!settings->encoding && (rate || channels)) {
        say(rate ? "--rate" : "--channels",
            "no --encoding found; a capture with a header says this itself; leave it out, or add --encoding NAME");
        return false;
    }
    return true;
}

/* Whether every capture is one to read, and every result can be written without writing over what is read. */
static bool check_paths(const struct settings *settings, int count, char *const *captures)
{
    const char *const results[] = {settings->json, settings->csv}, *const subjects[] = {"--json", "--csv"};
    int standard_inputs = 0;
    for (size_t i = 0; i < 2; i++) {
        if (!results[i])
            continue;
        if (!output_check_file(subjects[i], results[i]))
            return false;
        if (settings->bench && output_same_file(results[i], settings->bench)) {
            say(subjects[i], "'%s' is the bench file, which would be lost; another file expected; name one",
                results[i]);
            return false;
        }
        for (int k = 0; k < count; k++)
            if (output_same_file(results[i], captures[k])) {
                say(subjects[i], "'%s' is a capture, which would be lost; another file expected; name one", results[i]);
                return false;
            }
    }
    for (int k = 0; k < count; k++)
        standard_inputs += is_standard(captures[k]);
    if (standard_inputs > 1) {
        say("-", "standard input found %d times; it can be read once; leave the others out", standard_inputs);
        return false;
    }
    return !settings->plots || output_check_folder("--plots", settings->plots);
}

/* The bench file, then the options over it. */
static bool fill_bench(const struct settings *settings, struct lds_bench *bench)
{
    struct lds_error error = {0};
    if (settings->bench && lds_bench_load(bench, settings->bench, &error) != LDS_OK) {
        say_about(settings->bench, error.message);
        return false;
    }
    if (given(settings->full_scale_v))
        bench->full_scale_v = settings->full_scale_v;
    if (given(settings->attenuation))
        bench->attenuation = settings->attenuation;
    if (given(settings->load_ohm))
        bench->load_ohm = settings->load_ohm;
    if (settings->dc_coupled)
        bench->dc_coupled = true;
    if (given(settings->attenuation) && isnan(bench->full_scale_v)) {
        say("--attenuation", "no full scale to go with it; volts need both; add --full-scale V");
        return false;
    }
    return true;
}

static bool fill_options(const struct settings *settings, struct lds_measure_options *measure)
{
    lds_measure_options_init(measure);
    if (!fill_bench(settings, &measure->bench))
        return false;
    memcpy(measure->band, settings->bands.band, sizeof measure->band);
    measure->bands = settings->bands.count;
    measure->channel = settings->channel;
    measure->mains_hz = settings->mains_hz;
    measure->tone_hz = settings->tone_hz;
    measure->threads = settings->threads;
    measure->curves = settings->plots != NULL;
    measure->progress = progress_show;
    return true;
}

/* Measures one capture; says what is wrong with it when it cannot be. */
static bool measure_capture(const char *path, const struct settings *settings, struct lds_measure_options *measure,
                            struct lds_measurement *measurement)
{
    const struct lds_capture_options headerless = {settings->encoding, settings->rate_hz, settings->channels};
    struct lds_capture *capture = NULL;
    struct lds_error error = {0};
    struct progress progress;
    progress_start(&progress, !settings->no_progress, is_standard(path) ? "standard input" : path);
    measure->progress_context = &progress;
    enum lds_status status = lds_capture_open(path, settings->encoding ? &headerless : NULL, &capture, &error);
    if (status == LDS_OK) {
        status = lds_measure(capture, measure, measurement, &error);
        if (status != LDS_OK)
            lds_measurement_free(measurement);
        lds_capture_close(capture);
    }
    progress_end(&progress);
    if (status != LDS_OK)
        say_about(path, error.message);
    return status == LDS_OK;
}

static bool write_plots(const struct settings *settings, const struct lds_measurement *measurements, size_t count)
{
    struct lds_error error = {0};
    int drawn = 0;
    if (lds_report_plots(measurements, count, settings->plots, settings->pdf ? LDS_PLOT_PDF : 0, &drawn, &error) !=
        LDS_OK) {
        say("--plots", "%s", error.message);
        return false;
    }
    if (!drawn)
        say("--plots", "gnuplot was not found, so there are scripts and data but no pictures; install gnuplot "
                       "and run this again");
    return true;
}

/* What goes to standard output: JSON or CSV alone, else the table. */
static bool write_standard(const struct settings *settings, const struct lds_measurement *measurements, size_t count)
{
    struct lds_error error = {0};
    enum lds_status status = LDS_OK;
    const char *subject = "table";
    if (is_standard(settings->json)) {
        subject = "--json";
        status = lds_report_json(measurements, count, "-", &error);
    } else if (is_standard(settings->csv)) {
        subject = "--csv";
        status = lds_report_csv(measurements, count, "-", &error);
    } else if (!settings->quiet) {
        status = lds_report_text(measurements, count, stdout, &error);
    }
    if (status != LDS_OK)
        output_failed(subject, error.message);
    return status == LDS_OK;
}

/* Files first: the reader of standard output may go away, and the program with it. */
static bool write_results(const struct settings *settings, const struct lds_measurement *measurements, size_t count)
{
    struct lds_error error = {0};
    bool good = true;
    if (settings->json && !is_standard(settings->json) &&
        lds_report_json(measurements, count, settings->json, &error) != LDS_OK) {
        say("--json", "%s", error.message);
        good = false;
    }
    if (settings->csv && !is_standard(settings->csv) &&
        lds_report_csv(measurements, count, settings->csv, &error) != LDS_OK) {
        say("--csv", "%s", error.message);
        good = false;
    }
    if (settings->plots)
        good &= write_plots(settings, measurements, count);
    return write_standard(settings, measurements, count) && good;
}

static enum exit_status measure_captures(const struct settings *settings, int count, char *const *captures)
{
    struct lds_measure_options measure;
    struct lds_measurement *measurements = calloc((size_t)count, sizeof *measurements);
    size_t measured = 0;
    bool good = true;
    if (!fill_options(settings, &measure) || !measurements) {
        if (!measurements)
            say("memory", "none left for %d captures; less is needed for fewer; measure some of them", count);
        lds_bench_free(&measure.bench);
        free(measurements);
        return EXIT_TROUBLE;
    }
    for (int k = 0; k < count; k++) {
        if (measure_capture(captures[k], settings, &measure, &measurements[measured]))
            measured++;
        else
            good = false;
    }
    if (measured)
        good &= write_results(settings, measurements, measured);
    for (size_t i = 0; i < measured; i++)
        lds_measurement_free(&measurements[i]);
    free(measurements);
    lds_bench_free(&measure.bench);
    return good ? EXIT_DONE : EXIT_TROUBLE;
}

static enum exit_status run_measure(int argc, char **argv)
{
    struct settings settings = {
        .full_scale_v = NAN, .attenuation = NAN, .load_ohm = NAN, .mains_hz = NAN, .tone_hz = NAN, .rate_hz = NAN};
    int operand = argc;
    switch (options_parse(&measure_command, argc, argv, &settings, &operand)) {
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
    char *const *captures = argv + operand;
    const int count = argc - operand;
    if (!check_settings(&settings) || !check_paths(&settings, count, captures))
        return EXIT_TROUBLE;
    return measure_captures(&settings, count, captures);
}

const struct command measure_command = {
    .name = "measure",
    .operands = "CAPTURE...",
    .summary = "figures of each capture: trust, level, distortion, noise, mains, spurs",
    .text = text,
    .caution = caution,
    .options = options,
    .examples = examples,
    .run = run_measure,
};
