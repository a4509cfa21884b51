#include "sources.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "progress.h"
#include "say.h"

void measured_free(struct measured *measured)
{
    for (size_t i = 0; i < measured->count; i++)
        lds_measurement_free(&measured->measurement[i]);
    free(measured->measurement);
    *measured = (struct measured){0};
}

/* Makes room for more at the end of the list without counting them. */
struct lds_measurement *measured_room(struct measured *measured, size_t more)
{
    struct lds_measurement *grown =
        realloc(measured->measurement, (measured->count + more) * sizeof *measured->measurement);
    if (!grown) {
        say("memory", "none left for another capture; less is needed for fewer; leave some out");
        return NULL;
    }
    measured->measurement = grown;
    return grown + measured->count;
}

/* Removes all other channels from a measurement; true if the channel exists. */
static bool keep_channel(struct lds_measurement *measurement, int number)
{
    for (size_t i = 0; i < measurement->channels; i++)
        if (measurement->channel[i].channel == number) {
            struct lds_channel kept = measurement->channel[0];
            measurement->channel[0] = measurement->channel[i];
            measurement->channel[i] = kept;
            /* The rest is freed as a measurement of its own. */
            struct lds_measurement rest = {.channels = measurement->channels - 1,
                                           .channel = calloc(measurement->channels, sizeof kept),
                                           .pairs = measurement->pairs,
                                           .pair = measurement->pair};
            if (!rest.channel)
                return false;
            memcpy(rest.channel, measurement->channel + 1, rest.channels * sizeof kept);
            lds_bench_init(&rest.bench);
            lds_measurement_free(&rest);
            measurement->channels = 1;
            measurement->pairs = 0;
            measurement->pair = NULL;
            return true;
        }
    return false;
}

static bool read_saved(struct source *source, const struct common *common)
{
    struct lds_error error = {0};
    if (!say_unless(lds_saved_read(source->path, &source->saved.measurement, &source->saved.count, &error),
                    source->path, &error))
        return false;
    for (size_t i = 0; common->channel > 0 && i < source->saved.count; i++)
        if (!keep_channel(&source->saved.measurement[i], common->channel))
            return say(source->path,
                       "no channel %d in this saved result; one that it holds expected; name another with "
                       "--channel, or leave that out",
                       common->channel);
    return true;
}

bool source_open(struct source *source, const char *path, const struct common *common)
{
    *source = (struct source){.path = path};
    if (!common->encoding && lds_saved_is(path))
        return read_saved(source, common);
    const struct lds_capture_options headerless = {common->encoding, common->rate_hz, common->channels};
    struct lds_error error = {0};
    return say_unless(lds_capture_open(path, common->encoding ? &headerless : NULL, &source->capture, &error), path,
                      &error);
}

void source_close(struct source *source)
{
    if (source->capture)
        lds_capture_close(source->capture);
    source->capture = NULL;
    measured_free(&source->saved);
}

/* How far its figures reach; the lowest end if a saved result has several captures. */
static double source_end_hz(const struct source *source, const struct lds_bench *bench)
{
    double end_hz = source->capture ? lds_measure_end_hz(lds_capture_info(source->capture)->rate_hz, bench) : INFINITY;
    for (size_t i = 0; i < source->saved.count; i++)
        end_hz =
            fmin(end_hz, lds_measure_end_hz(source->saved.measurement[i].rate_hz, &source->saved.measurement[i].bench));
    return end_hz;
}

/* Prints where a stated signal is incomplete: there is then no response. */
static void say_breaks(const char *path, const struct lds_measurement *measurement)
{
    for (size_t i = 0; i < measurement->channels; i++) {
        const struct lds_problem *problem = lds_channel_problem(&measurement->channel[i], LDS_PROBLEM_BREAKS_OFF);
        if (problem)
            say(path,
                "channel %d: the stated signal breaks off at %.3f s and goes on later: no response is given; play and "
                "record it again",
                measurement->channel[i].channel, problem->at_s);
    }
}

static bool measure_capture(struct source *source, const struct common *common, struct lds_measure_options *options,
                            double end_hz, struct measured *measured)
{
    struct lds_measurement *measurement = measured_room(measured, 1);
    if (!measurement)
        return false;
    struct lds_error error = {0};
    struct progress progress;
    double usable_to_hz = options->bench.usable_to_hz;
    progress_start(&progress, !common->no_progress, is_standard(source->path) ? "standard input" : source->path);
    options->progress_context = &progress;
    if (source_end_hz(source, &options->bench) > end_hz)
        options->bench.usable_to_hz = end_hz;
    enum lds_status status = lds_measure(source->capture, options, measurement, &error);
    options->bench.usable_to_hz = usable_to_hz;
    progress_end(&progress);
    if (!say_unless(status, source->path, &error)) {
        lds_measurement_free(measurement);
        return false;
    }
    measured->count++;
    say_breaks(source->path, measurement);
    return true;
}

bool source_measure(struct source *source, const struct common *common, struct lds_measure_options *options,
                    double end_hz, struct measured *measured)
{
    if (source->capture)
        return measure_capture(source, common, options, end_hz, measured);
    if (source->saved.count == 0) /* could not be opened, which has been reported */
        return true;
    struct lds_measurement *place = measured_room(measured, source->saved.count);
    if (!place)
        return false;
    memcpy(place, source->saved.measurement, source->saved.count * sizeof *place);
    measured->count += source->saved.count;
    source->saved.count = 0; /* they have been moved */
    return true;
}

const char *sources_option(const struct common *common)
{
    return common->bench                   ? "--bench"
           : !isnan(common->full_scale_v)  ? "--full-scale"
           : !isnan(common->attenuation)   ? "--attenuation"
           : !isnan(common->load_ohm)      ? "--load"
           : common->dc_coupled            ? "--dc-coupled"
           : common->bands.count > 0       ? "--band"
           : !isnan(common->mains_hz)      ? "--mains"
           : !isnan(common->tone_hz)       ? "--tone"
           : common_stating(common)        ? common_stating(common)
           : !isnan(common->settle_band_v) ? "--settle-band"
           : !isnan(common->bias_ohm)      ? "--bias-resistance"
                                           : NULL;
}

bool sources_check(const struct common *common, size_t captures)
{
    const char *option = sources_option(common);
    if (captures > 0 || !option)
        return true;
    return say(option,
               "saved results alone found, which keep what they were measured with; a capture expected; leave it out, "
               "or measure the captures again");
}

/* Opens what can be opened. */
static bool open_all(struct sources *sources, int count, char *const *paths)
{
    size_t captures = 0;
    sources->source = calloc((size_t)count, sizeof *sources->source);
    if (!sources->source)
        return say("memory", "none left for the captures; less is needed for fewer; leave some out");
    for (int i = 0; i < count; i++) {
        struct source *source = &sources->source[sources->count++];
        if (!source_open(source, paths[i], sources->common)) {
            source_close(source);
            sources->good = false;
            continue;
        }
        double end_hz = source_end_hz(source, &sources->measure.bench);
        sources->end_hz = fmin(sources->end_hz, end_hz);
        sources->farthest_hz = fmax(sources->farthest_hz, end_hz);
        captures += source->capture != NULL;
    }
    return !sources->good || sources_check(sources->common, captures);
}

bool sources_open(struct sources *sources, const struct common *common, int count, char *const *paths)
{
    *sources = (struct sources){.common = common, .end_hz = INFINITY, .good = true};
    return common_measure_options(common, &sources->measure) && open_all(sources, count, paths) &&
           chains_measure(common, &sources->measure, sources->end_hz, &sources->chains);
}

void sources_close(struct sources *sources)
{
    for (size_t i = 0; i < sources->count; i++)
        source_close(&sources->source[i]);
    free(sources->source);
    measured_free(&sources->chains);
    lds_bench_free(&sources->measure.bench);
    *sources = (struct sources){0};
}

bool sources_measure(struct sources *sources, size_t first, size_t last, struct measured *measured)
{
    bool good = true;
    for (size_t i = first; i < last; i++) {
        good =
            source_measure(&sources->source[i], sources->common, &sources->measure, sources->end_hz, measured) && good;
        source_close(&sources->source[i]);
    }
    return good;
}

bool chains_measure(const struct common *common, struct lds_measure_options *options, double end_hz,
                    struct measured *chains)
{
    double tone_hz = options->tone_hz;
    enum lds_signal_kind kind = options->signal.kind;
    bool good = true;
    options->tone_hz = NAN; /* a shorted input has none, a loopback may have */
    options->signal.kind = LDS_SIGNAL_NONE;
    const char *own = common->chain.count == 0 ? options->bench.chain : NULL; /* not used if --chain is given */
    for (size_t i = 0; i < common->chain.count + (own != NULL); i++) {
        struct source source;
        good = source_open(&source, own ? own : common->chain.path[i], common) &&
               source_measure(&source, common, options, end_hz, chains) && good;
        source_close(&source);
    }
    options->tone_hz = tone_hz;
    options->signal.kind = kind;
    return good;
}

bool chains_apply(const struct measured *chains, struct measured *measured)
{
    bool good = true;
    for (size_t i = 0; chains->count > 0 && i < measured->count; i++) {
        struct lds_error error = {0};
        struct lds_measurement *measurement = &measured->measurement[i];
        good &= say_unless(lds_chain_apply(measurement, chains->measurement, chains->count, &error), measurement->file,
                           &error);
    }
    return good;
}
