#include "measure/power/measure_power.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "fail.h"
#include "grow.h"
#include "loadside/signal.h"
#include "measure/feed.h"
#include "measure/power/plateaus.h"
#include "measure/power/power.h"
#include "measure/power/tone_course.h"
#include "record/record.h"
#include "scarce.h"

static const double CLEAR = 30.0; /* times the noise of a frame: from here on a plateau shows its own frequency */

struct work {
    struct lds_capture *capture;
    const struct lds_capture_info *info;
    const struct lds_asked *asked;
    struct lds_measurement *measurement;
    struct lds_error *error;
    double *x; /* samples of a plateau */
    bool stepped[LDS_CHANNELS_MAX];
    double tone_hz;
    struct lds_tone_course course[LDS_CHANNELS_MAX];
};

static enum lds_status no_memory(const struct work *w)
{
    return lds_fail_memory(w->error, "power");
}

static bool take_course(void *context, size_t c, int64_t at, const double *x, size_t n)
{
    struct work *w = context;
    (void)at;
    return lds_tone_course_push(&w->course[c], x, n);
}

static bool take_samples(void *context, size_t c, int64_t at, const double *x, size_t n)
{
    struct work *w = context;
    (void)c;
    memcpy(w->x + at, x, n * sizeof *x);
    return true;
}

/* Feeds a stretch of the capture to `channels` channels, beginning with `channel`. */
static enum lds_status feed(struct work *w, int64_t first, int64_t frames, size_t channel, size_t channels,
                            bool (*take)(void *context, size_t c, int64_t at, const double *x, size_t n))
{
    const struct lds_feed feed = {.capture = w->capture,
                                  .asked = w->asked,
                                  .first = first,
                                  .frames = frames,
                                  .channel = channel,
                                  .channels = channels,
                                  .what = "power",
                                  .context = w,
                                  .take = take};
    return lds_feed_run(&feed, w->error);
}

/* ---- one plateau ---- */

/* Input level in dB: that of the stated signal, or of the channel that recorded the input. */
static double level_in(const struct work *w, const struct lds_channel *channel, const struct lds_plateau_span *span)
{
    const struct lds_signal_spec *spec = &w->asked->options->known;
    const double middle_s = 0.5 * (span->from_s + span->to_s);
    if (spec->kind == LDS_SIGNAL_STAIRCASE && !isnan(channel->signal.delay_s)) {
        const double clock = isnan(channel->signal.clock_ppm) ? 0.0 : channel->signal.clock_ppm;
        const double step = floor((middle_s - channel->signal.delay_s) / (1.0 + 1e-6 * clock) / spec->hold_s);
        return step >= 0.0 && step < lds_signal_steps(spec) ? lds_signal_step_dbfs(spec, (int)step) : (double)NAN;
    }
    for (size_t c = 0; w->asked->options->reference > 0 && c < w->asked->channels; c++)
        if (w->asked->channel[c] + 1 == w->asked->options->reference) {
            const double level = lds_tone_course_level(&w->course[c], span->inner_from_s, span->inner_to_s);
            return 20.0 * log10(level);
        }
    return NAN;
}

/* Flags of the recording's problems during a plateau. */
static unsigned flags_of(const struct lds_channel *channel, const struct lds_plateau_span *span)
{
    unsigned flags = 0u;
    for (size_t i = 0; i < channel->problems; i++) {
        const struct lds_problem *problem = &channel->problem[i];
        if (problem->at_s < span->from_s || problem->at_s > span->to_s)
            continue;
        flags |= strcmp(problem->kind, "clipped") == 0 ? LDS_FLAG_CLIPPED : 0u;
        flags |= strcmp(problem->kind, "gap") == 0 ? LDS_FLAG_GAP : 0u;
    }
    return flags;
}

static enum lds_status measure_plateau(struct work *w, size_t c, const struct lds_plateau_span *span, double hz,
                                       struct lds_powers *powers)
{
    const double rate_hz = w->info->rate_hz;
    const int64_t end = (int64_t)fmin(floor(span->inner_to_s * rate_hz), (double)w->info->frames);
    const double room = (double)end - ceil(span->inner_from_s * rate_hz);
    const size_t n = room > 0.0 ? lds_plateau_length((size_t)room) : 0;
    if ((double)n * hz < LDS_PLATEAU_PERIODS * rate_hz)
        return LDS_OK;
    w->x = malloc(n * sizeof *w->x);
    enum lds_status status = w->x ? feed(w, end - (int64_t)n, (int64_t)n, c, 1, take_samples) : no_memory(w);
    struct lds_power_point *point = !status ? lds_grow(&powers->point, &powers->count, sizeof *point) : NULL;
    const struct lds_channel *channel = &w->measurement->channel[c];
    if (!status &&
        (!point || !lds_plateau_measure(w->x, n, rate_hz, hz, powers->end_hz, powers->bench, &point->plateau)))
        status = no_memory(w);
    if (!status) {
        point->plateau.from_s = span->from_s;
        point->plateau.to_s = span->to_s;
        point->level_db = level_in(w, channel, span);
        point->flags = flags_of(channel, span);
    }
    free(w->x);
    return status;
}

/* ---- one channel ---- */

/* The tone's frequency at a plateau: its own where it shows that clearly, else that of the loudest one. */
static double frequency(const struct work *w, size_t c, const struct lds_plateaus *plateaus, size_t index)
{
    const struct lds_tone_course *course = &w->course[c];
    size_t loudest = 0;
    for (size_t i = 1; i < plateaus->count; i++)
        if (plateaus->span[i].amplitude > plateaus->span[loudest].amplitude)
            loudest = i;
    const bool own = plateaus->span[index].amplitude > CLEAR * plateaus->noise;
    const struct lds_plateau_span *span = &plateaus->span[own ? index : loudest];
    return w->tone_hz + lds_tone_course_off_hz(course, span->inner_from_s, span->inner_to_s);
}

static int driven(const struct work *w)
{
    int count = 0;
    for (size_t c = 0; c < w->asked->channels; c++)
        count += w->stepped[c] && w->asked->channel[c] + 1 != w->asked->options->reference;
    return count;
}

static double held(const struct lds_plateaus *plateaus)
{
    double shortest = INFINITY;
    for (size_t i = 0; i < plateaus->count; i++)
        shortest = fmin(shortest, plateaus->span[i].to_s - plateaus->span[i].from_s);
    return shortest;
}

static enum lds_status measure_channel(struct work *w, size_t c)
{
    const struct lds_signal_spec *spec = &w->asked->options->known;
    struct lds_channel *channel = &w->measurement->channel[c];
    struct lds_plateaus plateaus;
    struct lds_powers powers = {.bench = &w->asked->bench[c],
                                .end_hz = lds_measure_end_hz(w->info->rate_hz, &w->asked->bench[c]),
                                .driven = driven(w),
                                .channels = w->info->channels};
    const double hold_s = spec->kind == LDS_SIGNAL_STAIRCASE ? spec->hold_s : (double)NAN;
    enum lds_status status = lds_plateaus_find(&w->course[c], hold_s, &plateaus) ? LDS_OK : no_memory(w);
    powers.held_s = !status ? held(&plateaus) : 0.0;
    for (size_t i = 0; !status && plateaus.count >= LDS_PLATEAUS_LEAST && i < plateaus.count; i++)
        status = measure_plateau(w, c, &plateaus.span[i], frequency(w, c, &plateaus, i), &powers);
    if (!status && powers.count >= LDS_PLATEAUS_LEAST) {
        if (!lds_power_figures(channel, &powers))
            status = no_memory(w);
    } else if (!status) {
        char why[128];
        snprintf(why, sizeof why,
                 "the level of the tone stays at %zu steady levels for %d periods or more; a staircase takes %d",
                 powers.count, LDS_PLATEAU_PERIODS, LDS_PLATEAUS_LEAST);
        status = lds_power_absent(channel, why) ? LDS_OK : no_memory(w);
    }
    lds_figures_bound(channel->figure, channel->figures);
    free(plateaus.span);
    free(powers.point);
    return status;
}

enum lds_status lds_power_measure(struct lds_capture *capture, const struct lds_asked *asked,
                                  struct lds_measurement *measurement, struct lds_error *error)
{
    struct work w = {.capture = capture,
                     .info = lds_capture_info(capture),
                     .asked = asked,
                     .measurement = measurement,
                     .error = error};
    bool any = false;
    for (size_t c = 0; c < asked->channels; c++) {
        const struct lds_signal *signal = &measurement->channel[c].signal;
        w.stepped[c] = signal->kind == LDS_SIGNAL_STAIRCASE && signal->frequency_hz[0] > 0.0;
        w.tone_hz = w.stepped[c] && !any ? signal->frequency_hz[0] : w.tone_hz;
        any = any || w.stepped[c];
    }
    if (!any)
        return LDS_OK;
    bool memory = true;
    for (size_t c = 0; memory && c < asked->channels; c++)
        memory = lds_tone_course_init(&w.course[c], w.info->rate_hz, w.tone_hz);
    enum lds_status status = memory ? feed(&w, 0, w.info->frames, 0, asked->channels, take_course) : no_memory(&w);
    for (size_t c = 0; !status && c < asked->channels; c++)
        if (w.stepped[c])
            status = measure_channel(&w, c);
    for (size_t c = 0; c < asked->channels; c++)
        lds_tone_course_free(&w.course[c]);
    if (lds_scarce_take() && !status)
        status = no_memory(&w);
    return status;
}
