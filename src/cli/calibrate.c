/* loadside calibrate: measures what a bench file should say. */
#include <math.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "command.h"
#include "common.h"
#include "output.h"
#include "say.h"
#include "sources.h"

struct settings {
    struct common common; /* the first member: see common.h */
    double volts, meter_percent;
    bool loopback;
    const char *out;
};

#define PLACE(member) offsetof(struct settings, member)

static const struct option_row own_options[] = {
    {.group = "What the capture holds",
     QUANTITY_OPTION("volts", "V", PLACE(volts), "V", 1e-3, 1e4, "8.944 V",
                     "a steady sine of this rms voltage at the load: gives the full scale")},
    {QUANTITY_OPTION("meter", "PERCENT", PLACE(meter_percent), "%", 1e-3, 50.0, "0.5 %",
                     "tolerance of the meter that read it, +-; not stated when not given")},
    {SWITCH_OPTION("loopback", PLACE(loopback),
                   "the player straight into the recorder: gives the chain's response, corner, usable band, clock, "
                   "distortion and noise")},
    {.group = "The bench file",
     FILE_OPTION("out", "FILE", PLACE(out), "bench.ini",
                 "bench file to write; in an existing one only what was measured is changed")},
    {0},
};

static const struct option_row *const options[] = {
    own_options, common_bench_options, common_what_options, common_headerless_options, common_last_options, NULL};

static const char *const text[] = {
    "Measures what a bench file should say, and writes it to --out. An existing file is changed only in what was "
    "measured; comments and everything else stay, and old values are shown.",
    "--volts V CAPTURE: play a sine, read its rms voltage at the load with a meter, and record it. The full scale of "
    "the input follows, with the divider of --attenuation or of the bench file.",
    "--loopback CAPTURE --signal OUT.ini: connect the player straight to the recorder and record a sweep. The chain's "
    "response is written beside the bench file (-response.csv), its measurement too (-chain.json): later measurements "
    "divide the response out, and flag what the chain explains.",
    NULL,
};

static const struct example examples[] = {
    {"loadside calibrate --volts 8.944 --meter 0.5 --signal tone.ini --attenuation 10 --out bench.ini capture.wav",
     "the full scale, from a sine of 8.944 V at the load through a 10:1 divider"},
    {"loadside calibrate --loopback --signal sweep.ini --out bench.ini loop.wav", "what the chain itself does"},
    {0},
};

static bool check_settings(const struct settings *s, int operands)
{
    if (operands != 1)
        return say("calibrate", "%d captures found; one expected; name it", operands);
    if (!isnan(s->volts) == s->loopback)
        return say("calibrate", "%s found; one of --volts V and --loopback expected", s->loopback ? "both" : "neither");
    if (!s->out)
        return say("--out", "not found; the bench file to write expected, as in --out bench.ini");
    if (s->loopback && !s->common.signal)
        return say("--loopback",
                   "found without --signal; the file that loadside signal wrote beside the WAV expected; add it");
    if (!isnan(s->meter_percent) && s->loopback)
        return say("--meter", "found with --loopback, which needs no meter; leave it out");
    return output_check_file("--out", s->out);
}

static const char *file_name(const char *path)
{
    const char *slash = strrchr(path, '/');
    return slash ? slash + 1 : path;
}

/* The silence around the signal is a second recording of the chain. */
static bool measure_silence(const struct lds_measure_options *measuring, struct source *source,
                            struct measured *measured)
{
    struct lds_error error = {0};
    bool there = false;
    struct lds_measure_options silently = *measuring;
    silently.progress = NULL; /* the line of progress was that of the sweep */
    struct lds_measurement *silence = source->capture ? measured_room(measured, 1) : NULL;
    if (!silence)
        return !source->capture;
    if (!say_unless(lds_calibrate_silence(source->capture, &silently, measured->measurement, silence, &there, &error),
                    source->path, &error)) {
        lds_measurement_free(silence);
        return false;
    }
    measured->count += there;
    return true;
}

static bool measure(const struct settings *s, struct lds_measure_options *measuring, const char *path,
                    struct measured *measured)
{
    struct source source;
    const bool good = source_open(&source, path, &s->common) &&
                      source_measure(&source, &s->common, measuring, INFINITY, measured) &&
                      (!s->loopback || measure_silence(measuring, &source, measured));
    source_close(&source);
    return good;
}

static void print_changes(const struct settings *s, const struct lds_calibration *calibration)
{
    char safe[4096];
    say_escaped(s->out, safe, sizeof safe);
    printf("%s:\n", safe);
    for (size_t i = 0; i < calibration->changes; i++) {
        const struct lds_bench_change *change = &calibration->change[i];
        const bool own = strcmp(change->section, "bench") != 0;
        char old[LDS_BENCH_VALUE], value[LDS_BENCH_VALUE];
        say_escaped(change->old, old, sizeof old);
        say_escaped(change->value, value, sizeof value);
        printf("  %s%s%s%s %s%s%s\n", own ? "[" : "", own ? change->section : "", own ? "] " : "", change->key, old,
               old[0] ? " -> " : "", value);
    }
}

/* What the voltage means for whoever connects an amplifier next. */
static void print_volts(const struct settings *s, const struct lds_calibration *calibration, struct lds_bench *bench)
{
    bench->full_scale_v = calibration->full_scale_v;
    printf("The input takes %.4g V peak; at the load %.4g V peak", bench->full_scale_v,
           lds_bench_volts_per_unit(bench));
    if (!isnan(bench->load_ohm))
        printf(", a sine of %.3g W into %.4g ohm", lds_bench_largest_sine_w(bench), bench->load_ohm);
    printf(".\n");
    if (isnan(s->meter_percent))
        printf("The meter's tolerance is not stated (--meter): the limits are those of the tone alone.\n");
    printf("\n");
    for (size_t i = 0; common_caution[i]; i++)
        describe_paragraph(common_caution[i], stdout);
}

static enum exit_status finish(const struct settings *s, struct lds_calibration *calibration)
{
    struct lds_error error = {0};
    if (!say_unless(lds_bench_file_change(s->out, calibration, &error), s->out, &error))
        return EXIT_TROUBLE;
    if (!s->common.quiet)
        print_changes(s, calibration);
    return EXIT_DONE;
}

/* Adds what the user stated, which goes into the file too. */
static void add_stated(const struct settings *s, struct lds_calibration *calibration)
{
    if (!isnan(s->common.attenuation))
        lds_calibration_add(calibration, "bench", "attenuation", "%.9g", s->common.attenuation);
    if (!isnan(s->common.load_ohm))
        lds_calibration_add(calibration, "bench", "load", "%.9g ohm", s->common.load_ohm);
}

/* Measures the capture without a full scale, whatever the bench says. */
static enum exit_status from_volts(const struct settings *s, struct lds_measure_options *measuring, const char *path)
{
    struct measured measured = {0};
    struct lds_calibration calibration;
    struct lds_error error = {0};
    enum exit_status status = EXIT_TROUBLE;
    measuring->bench.full_scale_v = NAN;
    for (size_t i = 0; i < measuring->bench.channels; i++)
        measuring->bench.channel[i].bench.full_scale_v = NAN;
    if (measure(s, measuring, path, &measured) &&
        say_unless(lds_calibrate_volts(measured.measurement, &measuring->bench, s->volts, s->meter_percent,
                                       &calibration, &error),
                   path, &error)) {
        add_stated(s, &calibration);
        status = finish(s, &calibration);
        if (status == EXIT_DONE && !s->common.quiet)
            print_volts(s, &calibration, &measuring->bench);
    }
    measured_free(&measured);
    return status;
}

/* The chain's own response must not be divided out of itself. */
static void forget_chain(struct lds_bench *bench)
{
    bench->response_points = 0;
    bench->low_corner_hz = 0.0;
    bench->usable_to_hz = INFINITY;
    for (size_t i = 0; i < bench->channels; i++)
        forget_chain(&bench->channel[i].bench);
}

static enum exit_status from_loopback(const struct settings *s, struct lds_measure_options *measuring, const char *path)
{
    struct measured measured = {0};
    struct lds_calibration calibration;
    struct lds_error error = {0};
    char *response = output_beside(s->out, "-response.csv"), *chain = output_beside(s->out, "-chain.json");
    enum exit_status status = EXIT_TROUBLE;
    forget_chain(&measuring->bench);
    if (!response || !chain)
        say("memory", "none left for the bench file; close other programs");
    else if (measure(s, measuring, path, &measured) &&
             say_unless(
                 lds_calibrate_loopback(measured.measurement, response, file_name(response), &calibration, &error),
                 path, &error) &&
             say_unless(lds_report_json(measured.measurement, measured.count, chain, &error), chain, &error)) {
        lds_calibration_add(&calibration, "bench", "chain", "%s", file_name(chain));
        add_stated(s, &calibration);
        status = finish(s, &calibration);
        if (status == EXIT_DONE && measured.count == 1 && !s->common.quiet)
            printf("No silence of 1 s is around the signal: the chain's noise is not known. Record for longer.\n");
    }
    measured_free(&measured);
    free(response);
    free(chain);
    return status;
}

static enum exit_status run_calibrate(const void *chosen, int operands, char **operand)
{
    const struct settings *settings = chosen;
    struct settings own;
    if (!check_settings(settings, operands) || !common_check(&settings->common) ||
        !common_check_paths(&settings->common, operands, operand, "a capture"))
        return EXIT_TROUBLE;
    /* If the bench file exists already, it is also the bench of the capture. */
    own = *settings;
    struct lds_measure_options measure_options;
    FILE *there = own.common.bench ? NULL : fopen(own.out, "re");
    if (there) {
        fclose(there);
        own.common.bench = own.out;
    }
    const double attenuation = own.common.attenuation;
    own.common.attenuation = NAN; /* without a full scale, which is to be found */
    enum exit_status status = EXIT_TROUBLE;
    if (common_measure_options(&own.common, &measure_options)) {
        own.common.attenuation = attenuation;
        if (!isnan(attenuation)) {
            measure_options.bench.attenuation = attenuation;
            for (size_t i = 0; i < measure_options.bench.channels; i++)
                measure_options.bench.channel[i].bench.attenuation = attenuation;
        }
        status = own.loopback ? from_loopback(&own, &measure_options, operand[0])
                              : from_volts(&own, &measure_options, operand[0]);
    }
    lds_bench_free(&measure_options.bench);
    return status;
}

const struct command calibrate_command = {
    .name = "calibrate",
    .operands = "CAPTURE",
    .summary = "a bench file from a tone of known voltage, or from a recording of the chain alone",
    .text = text,
    .caution = common_caution,
    .options = options,
    .examples = examples,
    .settings = sizeof(struct settings),
    .run = run_calibrate,
};
