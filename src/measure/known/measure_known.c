#include "measure/known/measure_known.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "fail.h"
#include "grow.h"
#include "large.h"
#include "measure/each_channel.h"
#include "measure/feed.h"
#include "measure/known/follow.h"
#include "measure/known/known_noise.h"
#include "measure/known/known_sweep.h"
#include "measure/known/search.h"
#include "measure/known/search_tone.h"
#include "measure/known/sweep_pairs.h"
#include "measure/known/whole.h"
#include "measure/statistics/uncertainty.h"
#include "record/record.h"
#include "scarce.h"

enum { AT_ONCE = 2 /* channels whose samples are held together */ };
static const double MOST_BYTES = 128e6; /* of samples of channels that are held together */
static const double UNDRIVEN = 0.01;    /* 20 dB below the strongest channel, as for a tone */
static const double LEAST_MATCH = 0.1, CLEAR_MATCH = 0.25;
static const double SILENT = 3e-4;   /* rms re full scale, -67 dB: no signal at all (common practice, no source) */
static const double SETTLE_S = 0.03; /* after a fade, and before the next: left out of a steady tone */
static const double BEFORE_S = 0.25, AFTER_S = 1.5; /* read before and after the signal, for settling and for noise */

struct work {
    struct lds_capture *capture;
    const struct lds_capture_info *info;
    const struct lds_asked *asked;
    struct lds_measurement *measurement;
    struct lds_known_transfer *transfer; /* wanted in place of figures; else NULL */
    const struct lds_known *place;       /* NULL: to be found */
    struct lds_error *error;
    struct lds_search *search[LDS_CHANNELS_MAX]; /* for sweeps and noise */
    struct lds_tone_search *tones[LDS_CHANNELS_MAX];
    struct lds_known known[LDS_CHANNELS_MAX]; /* of the channels measured */
    double square[LDS_CHANNELS_MAX];          /* sums over the capture, full scale 1 */
    size_t strongest;
    size_t at_once;                   /* AT_ONCE, or fewer where the stretch is long */
    size_t first;                     /* channel whose stretch is x[0] */
    int64_t from, frames;             /* of the stretch */
    double *memory[LDS_CHANNELS_MAX]; /* of the samples of a channel, of room[] numbers */
    size_t room[LDS_CHANNELS_MAX];
    bool whole; /* what is held is the whole capture, not the stretch alone */
    struct lds_stretch stretch[AT_ONCE];
    struct lds_sweep_bands bands; /* of a sweep */
    struct lds_sweep_spectra spectra[AT_ONCE];
    struct lds_sweep_filter filter;
    struct lds_sweep_side side[LDS_CHANNELS_MAX];
};

/* ---- the search ---- */

static bool is_broad(const struct lds_signal_spec *spec)
{
    return lds_signal_has(spec->kind, LDS_PLAYS_BROAD);
}

static bool new_search(struct work *w, size_t c)
{
    const struct lds_signal_spec *spec = &w->asked->options->known;
    if (is_broad(spec))
        return (w->search[c] = lds_search_new(spec, w->info->rate_hz)) != NULL;
    return (w->tones[c] = lds_tone_search_new(spec, w->info->rate_hz)) != NULL;
}

static bool hold(struct work *w, size_t c, int64_t frames)
{
    w->room[c] = (size_t)frames;
    return (w->memory[c] = lds_large(w->room[c] * sizeof(double))) != NULL;
}

static void drop(struct work *w, size_t c)
{
    free(w->memory[c]);
    w->memory[c] = NULL;
}

/* A short capture is kept in memory while it is searched, so that it need not be read again. */
static bool hold_whole(struct work *w)
{
    const size_t channels = w->asked->channels;
    bool memory = true;
    w->whole = channels <= AT_ONCE && (double)channels * (double)w->info->frames * sizeof(double) <= MOST_BYTES;
    for (size_t c = 0; memory && w->whole && c < channels; c++)
        memory = hold(w, c, w->info->frames);
    return memory;
}

static bool take_search(void *context, size_t c, int64_t at, const double *x, size_t n)
{
    struct work *w = context;
    if (w->whole)
        memcpy(w->memory[c] + at, x, n * sizeof *x);
    for (size_t i = 0; i < n; i++)
        w->square[c] += x[i] * x[i];
    return w->search[c] ? lds_search_push(w->search[c], x, n) : lds_tone_search_push(w->tones[c], x, n);
}

static enum lds_status search_all(struct work *w)
{
    const char *what = "the search for the signal";
    bool memory = hold_whole(w);
    for (size_t c = 0; c < w->asked->channels; c++)
        memory = memory && new_search(w, c);
    const struct lds_feed feed = {.capture = w->capture,
                                  .asked = w->asked,
                                  .frames = w->info->frames,
                                  .channels = w->asked->channels,
                                  .what = what,
                                  .context = w,
                                  .take = take_search};
    const enum lds_status status = memory ? lds_feed_run(&feed, w->error) : lds_fail_memory(w->error, what);
    for (size_t c = 0; c < w->asked->channels; c++) {
        struct lds_known *known = &w->known[c];
        if (!status && w->search[c])
            lds_search_finish(w->search[c], &known->begin, &known->match);
        else if (!status)
            lds_tone_search_finish(w->tones[c], &known->begin, &known->match, &known->likeness);
        lds_search_free(w->search[c]);
        lds_tone_search_free(w->tones[c]);
        known->found = known->match >= LEAST_MATCH;
        if (known->match > w->known[w->strongest].match)
            w->strongest = c;
    }
    return status;
}

static enum lds_status nothing_found(const struct work *w)
{
    const struct lds_signal_spec *spec = &w->asked->options->known;
    bool silent = true;
    for (size_t c = 0; c < w->asked->channels; c++)
        silent = silent && w->square[c] < SILENT * SILENT * (double)w->info->frames;
    return lds_fail(w->error, LDS_BAD_INPUT,
                    "the capture does not hold the stated signal: from 0 s on there is %s instead of %s; check "
                    "the cables and which file was played, or state another signal",
                    silent ? "silence" : "something else", lds_signal_phrase(spec->kind));
}

/* Fails where the signal breaks off and does not go on. */
static enum lds_status check_whole(const struct work *w)
{
    const struct lds_known *known = &w->known[w->strongest];
    if (!known->found)
        return nothing_found(w);
    if (isnan(known->breaks_s) || !isnan(known->resumes_s))
        return LDS_OK;
    return lds_fail(w->error, LDS_BAD_INPUT,
                    "the stated signal, %s that begins at %.3f s, breaks off at %.3f s and does not go on; it was to "
                    "end at %.3f s: play and record all of it",
                    lds_signal_phrase(known->spec->kind), known->begin / w->info->rate_hz, known->breaks_s,
                    (known->begin + (double)lds_signal_proper(known->spec) / known->spec->rate_hz *
                                        lds_known_frames(known, w->info->rate_hz)) /
                        w->info->rate_hz);
}

/* Fails if the channel that the player drove does not hold the signal, but another channel does. */
static enum lds_status check_driven(const struct work *w)
{
    const int driven = w->asked->options->known.channel, found = w->asked->channel[w->strongest] + 1;
    if (driven == 0 || driven > w->info->channels || driven == found || w->asked->options->channel > 0)
        return LDS_OK;
    const struct lds_known *other = &w->known[driven - 1];
    if (other->found && other->match > 0.5 * w->known[w->strongest].match)
        return LDS_OK;
    return lds_fail(w->error, LDS_BAD_INPUT,
                    "the signal is in channel %d, from %.3f s on, and channel %d alone was driven: swap the cables, or "
                    "state the signal that was played",
                    found, w->known[w->strongest].begin / w->info->rate_hz, driven);
}

/* ---- the stretch ---- */

/* The stretch around the place where the search found the signal, the same for all channels. */
static void choose_stretch(struct work *w)
{
    const struct lds_signal_spec *spec = &w->asked->options->known;
    const double rate_hz = w->info->rate_hz, begin = w->known[w->strongest].begin;
    const double seconds = (double)lds_signal_proper(spec) / spec->rate_hz * (1.0 + 3e-4);
    w->from = (int64_t)fmax(floor(begin - BEFORE_S * rate_hz), 0.0);
    w->frames = (int64_t)fmin(ceil(begin + (seconds + AFTER_S) * rate_hz), (double)w->info->frames) - w->from;
    w->at_once = AT_ONCE * (double)w->frames * sizeof(double) <= MOST_BYTES ? AT_ONCE : 1;
}

static bool take_stretch(void *context, size_t c, int64_t at, const double *x, size_t n)
{
    struct work *w = context;
    memcpy(w->memory[c] + at, x, n * sizeof *x);
    return true;
}

/* Power of the stated signal in a channel, as far as the search shows it. */
static double signal_power(const struct work *w, size_t c)
{
    return w->square[c] * w->known[c].match * w->known[c].match;
}

/* Whether the player drove a channel: as stated, or else by its level. The reference channel counts as driven, as the
 * amplifier's input is; with one, so does every channel, unless some are stated. */
static bool is_driven(const struct work *w, size_t c)
{
    const struct lds_measure_options *options = w->asked->options;
    const int channel = w->asked->channel[c] + 1;
    for (size_t i = 0; i < options->drivens; i++)
        if (options->driven[i] == channel)
            return true;
    if (options->drivens > 0)
        return channel == options->reference;
    if (options->reference > 0)
        return true;
    double most = 0.0;
    for (size_t i = 0; i < w->asked->channels; i++)
        most = fmax(most, signal_power(w, i));
    return signal_power(w, c) > UNDRIVEN * most;
}

/* Chooses the driven channels, and the strongest among them. */
static void choose_driven(struct work *w)
{
    bool any = false;
    for (size_t c = 0; c < w->asked->channels; c++) {
        w->side[c].driven = is_driven(w, c);
        if (w->side[c].driven && (!any || w->known[c].match > w->known[w->strongest].match))
            w->strongest = c;
        any = any || w->side[c].driven;
    }
}

/* Runs beside the reader, since it takes longer than reading the samples. */
static bool plan_bands(void *context)
{
    struct work *w = context;
    const struct lds_known *known = &w->known[w->strongest];
    if (known->spec->kind != LDS_SIGNAL_SWEEP || w->bands.count > 0)
        return true;
    return lds_sweep_bands_make(&w->bands, &w->stretch[0], known) && lds_sweep_bands_plan(&w->bands);
}

/* Reads the samples of `count` channels from w->first on. */
static enum lds_status read_stretch(struct work *w, size_t count)
{
    bool memory = true;
    for (size_t i = 0; i < count; i++) {
        const size_t c = w->first + i;
        memory = memory && (w->whole || hold(w, c, w->frames));
        w->stretch[i] = (struct lds_stretch){w->memory[c] + (w->whole && memory ? w->from : 0), (size_t)w->frames,
                                             (double)w->from, w->info->rate_hz};
    }
    const struct lds_feed feed = {.capture = w->capture,
                                  .asked = w->asked,
                                  .first = w->from,
                                  .frames = w->frames,
                                  .channel = w->first,
                                  .channels = count,
                                  .what = "the stretch with the signal",
                                  .context = w,
                                  .take = take_stretch,
                                  .beside = plan_bands};
    if (!memory)
        return lds_fail_memory(w->error, feed.what);
    return w->whole ? LDS_OK : lds_feed_run(&feed, w->error);
}

static void take_place(const struct work *w, struct lds_known *known)
{
    if (!w->place)
        return;
    known->begin = w->place->begin;
    known->clock_ppm = w->place->clock_ppm;
}

static bool run_follow(void *context, size_t index)
{
    struct work *w = context;
    if (index == 0)
        return plan_bands(w);
    index--;
    struct lds_known *known = &w->known[w->first + index];
    const struct lds_stretch *stretch = &w->stretch[index];
    const double at = w->known[w->strongest].begin, apart = fabs(known->begin - at) / w->info->rate_hz;
    if (known->spec->kind == LDS_SIGNAL_SWEEP && !w->side[w->first + index].driven) {
        known->found = false;
        return true;
    }
    if (!known->found || apart > 0.5)
        known->begin = at; /* where it is weak, look at the place of the strongest */
    const struct lds_known searched = *known;
    if (!is_broad(known->spec))
        return lds_follow_tone(stretch, known);
    if (!(known->spec->kind == LDS_SIGNAL_SWEEP ? lds_follow_sweep : lds_follow_noise)(stretch, known))
        return false;
    const bool part = !known->found && searched.match >= CLEAR_MATCH;
    if (part) { /* too little of it to find its clock, or another signal was played */
        *known = searched;
        known->found = true;
    }
    if (known->found)
        (known->spec->kind == LDS_SIGNAL_SWEEP ? lds_whole_sweep : lds_whole_noise)(stretch, known);
    known->found = known->found && !(part && isnan(known->breaks_s));
    take_place(w, known);
    return true;
}

/* ---- the record ---- */

static void set_signal(struct lds_signal *signal, const struct lds_known *known, double rate_hz)
{
    signal->stated = true;
    signal->delay_s = known->found ? known->begin / rate_hz : (double)NAN;
    signal->clock_ppm = known->found ? known->clock_ppm : (double)NAN;
    signal->inverted = known->found ? known->inverted : -1;
}

static bool add_figure(struct lds_channel *channel, const char *key, double value, double u)
{
    struct lds_figure *figure = lds_channel_add(channel, key);
    if (figure)
        lds_figure_set_normal(figure, value, u, INFINITY);
    return figure;
}

static bool add_place(struct lds_channel *channel, const struct lds_known *known, double rate_hz)
{
    if (!known->found)
        return lds_channel_add_absent(channel, "signal.delay", "this channel does not hold the stated signal");
    return add_figure(channel, "signal.delay", known->begin / rate_hz, known->u_begin / rate_hz) &&
           add_figure(channel, "signal.clock", known->clock_ppm, known->u_clock_ppm);
}

/* An undriven channel shows only crosstalk of the sweep, or nothing. */
static bool record_undriven(struct work *w, size_t index)
{
    const size_t c = w->first + index;
    if (!lds_channel_add_absent(&w->measurement->channel[c], "response.gain", "this channel is not driven"))
        return false;
    return !w->filter.made || w->asked->pairs == 0 ||
           lds_known_sweep_transfer(&w->filter, &w->spectra[index], w->filter.known, &w->asked->bench[c],
                                    &w->side[c].transfer);
}

static bool run_transfer(void *context, size_t index)
{
    struct work *w = context;
    const size_t c = w->first + index;
    const struct lds_known *known = &w->known[c];
    w->transfer[c].known = *known;
    return !known->found || !isnan(known->breaks_s) ||
           lds_known_sweep_transfer(&w->filter, &w->spectra[index], known, &w->asked->bench[c],
                                    &w->transfer[c].transfer);
}

static bool run_record(void *context, size_t index)
{
    struct work *w = context;
    const size_t c = w->first + index;
    struct lds_channel *channel = &w->measurement->channel[c];
    const struct lds_known *known = &w->known[c];
    set_signal(&channel->signal, known, w->info->rate_hz);
    if (!add_place(channel, known, w->info->rate_hz))
        return false;
    if (!is_broad(known->spec))
        return true;
    if (known->spec->kind == LDS_SIGNAL_SWEEP && !w->side[c].driven)
        return record_undriven(w, index);
    if (!known->found || !isnan(known->breaks_s))
        return lds_channel_add_absent(channel, "response.gain", "%s",
                                      known->found ? "the signal breaks off, or drops out"
                                                   : "this channel does not hold the stated signal");
    if (known->spec->kind == LDS_SIGNAL_SWEEP)
        return lds_known_sweep(&w->filter, &w->spectra[index], known, &w->asked->bench[c],
                               w->asked->options->reference == 0, channel, &w->side[c].transfer);
    return w->asked->options->reference > 0 || lds_known_noise(&w->stretch[index], known, &w->asked->bench[c], channel);
}

/* Places the reference by the strongest channel, or by another one if the sweep is not whole in that. */
static void place_filter(struct work *w, size_t count)
{
    const struct lds_known *by = NULL;
    for (size_t c = w->first; c < w->first + count; c++)
        if (w->side[c].driven && w->known[c].found && isnan(w->known[c].breaks_s) && (!by || c == w->strongest))
            by = &w->known[c];
    w->filter.known = by;
    w->filter.bands = &w->bands;
}

/* Makes one of the filters that are still missing, or the spectra of a channel. */
static bool run_bands(void *context, size_t index)
{
    struct work *w = context;
    const size_t filters = w->filter.made ? 0 : w->bands.count;
    if (index < filters)
        return lds_sweep_filter_make(&w->filter, filters - 1 - index); /* the one that takes longest first */
    index -= filters;
    const size_t c = w->first + index;
    if (w->side[c].driven && (!w->known[c].found || !isnan(w->known[c].breaks_s)))
        return true;
    return lds_sweep_spectra_make(&w->spectra[index], &w->bands, &w->stretch[index], w->memory[c], w->room[c]);
}

/* For a sweep: makes the filters, and puts the channels' spectra in place of their samples. */
static bool make_bands(struct work *w, size_t count, int threads)
{
    if (w->asked->options->known.kind != LDS_SIGNAL_SWEEP)
        return true;
    if (!w->filter.known)
        place_filter(w, count);
    if (!w->filter.known)
        return true;
    const bool memory = lds_each_channel((w->filter.made ? 0 : w->bands.count) + count, threads, run_bands, w);
    w->filter.made = true;
    return memory;
}

/* Measures the channels in groups, that of the strongest channel first, since the others take their place from it. */
static enum lds_status measure_group(struct work *w, size_t first)
{
    const size_t left = w->asked->channels - first, count = left < w->at_once ? left : w->at_once;
    const int threads = lds_threads(w->asked->options);
    w->first = first;
    enum lds_status status = read_stretch(w, count);
    if (!status && !(lds_each_channel(1 + count, threads, run_follow, w) && make_bands(w, count, threads) &&
                     lds_each_channel(count, threads, w->transfer ? run_transfer : run_record, w)))
        status = lds_fail_memory(w->error, "the response");
    for (size_t i = 0; i < count; i++) {
        lds_sweep_spectra_free(&w->spectra[i]);
        drop(w, first + i);
    }
    return status;
}

/* A problem in each channel whose signal breaks off. */
static enum lds_status add_problems(struct work *w)
{
    for (size_t c = 0; c < w->asked->channels; c++) {
        const struct lds_known *known = &w->known[c];
        if (!known->found || isnan(known->breaks_s))
            continue;
        struct lds_channel *channel = &w->measurement->channel[c];
        struct lds_problem *problem = lds_grow(&channel->problem, &channel->problems, sizeof *problem);
        if (!problem)
            return lds_fail_memory(w->error, "the record");
        *problem = (struct lds_problem){.kind = LDS_PROBLEM_BREAKS_OFF,
                                        .at_s = known->breaks_s,
                                        .samples = (known->resumes_s - known->breaks_s) * w->info->rate_hz};
    }
    return LDS_OK;
}

static void drop_all(struct work *w)
{
    for (size_t c = 0; c < w->asked->channels; c++)
        drop(w, c);
}

static void begin(struct work *w)
{
    for (size_t c = 0; c < w->asked->channels; c++)
        w->known[c] =
            (struct lds_known){.spec = &w->asked->options->known, .inverted = -1, .breaks_s = NAN, .resumes_s = NAN};
}

enum lds_status lds_known_span(struct lds_capture *capture, const struct lds_asked *asked, int64_t *first,
                               int64_t *frames, struct lds_error *error)
{
    struct work w = {.capture = capture, .info = lds_capture_info(capture), .asked = asked, .error = error};
    const struct lds_signal_spec *spec = &asked->options->known;
    const double rate_hz = w.info->rate_hz;
    *first = *frames = 0;
    if (!lds_signal_has(spec->kind, LDS_PLAYS_STILL | LDS_PLAYS_TONE))
        return LDS_OK;
    begin(&w);
    enum lds_status status = search_all(&w);
    const struct lds_known *known = &w.known[w.strongest];
    if (!status && !known->found)
        status = nothing_found(&w);
    w.first = w.strongest;
    if (!status) {
        choose_stretch(&w);
        status = read_stretch(&w, 1);
    }
    if (!status && !run_follow(&w, 1))
        status = lds_fail_memory(error, "the search for the signal");
    drop_all(&w);
    if (!status)
        status = check_whole(&w);
    if (status || !isnan(known->breaks_s))
        return status;
    const double second = lds_known_frames(known, rate_hz), length = (double)lds_signal_proper(spec) / spec->rate_hz;
    const double from = known->begin + (spec->fade_in_s + SETTLE_S) * second;
    const double to = known->begin + (length - spec->fade_out_s - SETTLE_S) * second;
    if (from >= 0.0 && to <= (double)w.info->frames && to - from >= 0.2 * rate_hz) {
        *first = (int64_t)ceil(from);
        *frames = (int64_t)floor(to) - *first;
    }
    return LDS_OK;
}

/* Searches, measures all channels, and frees the memory used. */
static enum lds_status measure_all(struct work *w)
{
    begin(w);
    enum lds_status status = search_all(w);
    if (!status && !w->known[w->strongest].found)
        status = nothing_found(w);
    if (!status)
        choose_driven(w);
    if (!status)
        status = check_driven(w);
    if (!status) {
        take_place(w, &w->known[w->strongest]);
        choose_stretch(w);
    }
    const size_t own = status ? 0 : w->strongest - w->strongest % w->at_once;
    if (!status)
        status = measure_group(w, own);
    if (!status)
        status = check_whole(w);
    for (size_t first = 0; !status && first < w->asked->channels; first += w->at_once)
        if (first != own)
            status = measure_group(w, first);
    drop_all(w);
    lds_sweep_filter_free(&w->filter);
    lds_sweep_bands_free(&w->bands);
    return status;
}

enum lds_status lds_known_measure(struct lds_capture *capture, const struct lds_asked *asked,
                                  struct lds_measurement *measurement, struct lds_error *error)
{
    struct work w = {.capture = capture,
                     .info = lds_capture_info(capture),
                     .asked = asked,
                     .measurement = measurement,
                     .error = error};
    const struct lds_signal_spec *spec = &asked->options->known;
    if (spec->kind == LDS_SIGNAL_SILENCE)
        return LDS_OK;
    enum lds_status status = measure_all(&w);
    if (!status)
        status = add_problems(&w);
    if (!status && spec->kind == LDS_SIGNAL_SWEEP && !lds_sweep_pairs(asked, w.side, measurement))
        status = lds_fail_memory(error, "the record");
    if (!status)
        measurement->signal = measurement->channel[w.strongest].signal;
    for (size_t c = 0; !status && c < asked->channels; c++)
        lds_figures_bound(measurement->channel[c].figure, measurement->channel[c].figures);
    for (size_t c = 0; c < asked->channels; c++)
        lds_transfer_free(&w.side[c].transfer);
    if (lds_scarce_take() && !status) /* noted while figures were added */
        status = lds_fail_memory(error, "the record");
    return status;
}

enum lds_status lds_known_transfers(struct lds_capture *capture, const struct lds_asked *asked,
                                    const struct lds_known *place, struct lds_known_transfer *of,
                                    struct lds_error *error)
{
    struct work w = {.capture = capture,
                     .info = lds_capture_info(capture),
                     .asked = asked,
                     .transfer = of,
                     .place = place,
                     .error = error};
    memset(of, 0, asked->channels * sizeof *of);
    return measure_all(&w);
}
