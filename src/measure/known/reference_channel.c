#include "measure/known/reference_channel.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "constants.h"
#include "fail.h"
#include "measure/known/response.h"
#include "measure/statistics/uncertainty.h"
#include "record/record.h"
#include "scarce.h"
#include "spectrum/fft.h"

enum { CHUNK = 1 << 14, MOST_FRAMES = 1 << 22, FEWEST_BINS = 32 /* of periodic noise most bins are empty */ };
static const double LEAST_COHERENCE = 0.9; /* with less, the input has too little there (common practice, no source) */
static const double LOWEST_HZ = 5.0;
static const double SAME_HZ = 0.5;       /* two channels of one capture hold the same tone */
static const double LOWEST_CYCLES = 8.0; /* of the lowest frequency in the stretch */

struct work {
    struct lds_capture *capture;
    const struct lds_capture_info *info;
    const struct lds_asked *asked;
    struct lds_error *error;
    size_t n; /* frames, even */
    double complex *in, *out;
};

/* The spectrum of one channel (from 0) of the stretch, in place. */
static enum lds_status read_spectrum(struct work *w, int channel, double complex *spectrum)
{
    double *x = (double *)spectrum, *block = malloc((size_t)CHUNK * (size_t)w->info->channels * sizeof *block);
    fftw_plan plan = block ? lds_fft_real((int)w->n, x, spectrum) : NULL;
    enum lds_status status = plan ? lds_capture_seek(w->capture, (w->info->frames - (int64_t)w->n) / 2, w->error)
                                  : lds_fail_memory(w->error, "the response");
    double mean = 0.0;
    int64_t done = 0;
    for (int64_t got = 1; !status && done < (int64_t)w->n && got > 0; done += got) {
        const int64_t left = (int64_t)w->n - done;
        status = lds_capture_read(w->capture, block, left < CHUNK ? left : CHUNK, &got, w->error);
        for (int64_t i = 0; !status && i < got; i++) {
            x[done + i] = block[i * w->info->channels + channel];
            mean += x[done + i] / (double)w->n;
        }
    }
    for (size_t i = 0; !status && i < w->n; i++)
        x[i] -= mean;
    if (!status)
        fftw_execute(plan);
    lds_fft_free(plan);
    free(block);
    return status;
}

/* A delay turns the phase in proportion to the distance between bins. First it is estimated from neighbouring bins,
 * then from bins farther apart, which give it more precisely. From 1 kHz up, where filters delay little; weighted by
 * level. */
static double delay_s(const struct work *w, double bin_hz)
{
    double delay_s = 0.0;
    for (size_t apart = 1; apart < w->n / 16; apart *= 16) {
        const double complex turn = cexp(I * 2.0 * M_PI * bin_hz * (double)apart * delay_s);
        double complex sum = 0.0;
        for (size_t k = (size_t)(1000.0 / bin_hz); k + apart < w->n / 2; k++)
            sum += w->out[k + apart] * conj(w->in[k + apart]) * conj(w->out[k]) * w->in[k];
        delay_s -= carg(sum * turn) / (2.0 * M_PI * bin_hz * (double)apart);
    }
    return delay_s;
}

/* The frequencies around 1 kHz that the input holds. */
static void find_range(const struct lds_transfer_bins *bins, double end_hz, double *low_hz, double *high_hz)
{
    struct lds_transfer_point point;
    const double step = exp2(1.0 / LDS_RESPONSE_POINTS), least = fmax(LOWEST_CYCLES * bins->bin_hz, LOWEST_HZ);
    *low_hz = *high_hz = 1000.0;
    for (int way = -1; way <= 1; way += 2)
        for (double hz = 1000.0; hz >= least && hz <= end_hz; hz *= way < 0 ? 1.0 / step : step) {
            lds_transfer_at(bins, hz, LDS_RESPONSE_POINTS, &point);
            if (isfinite(point.coherence) && point.coherence < LEAST_COHERENCE)
                break;
            *(way < 0 ? low_hz : high_hz) = hz;
        }
}

static bool add_response(const struct work *w, const struct lds_bench *bench, struct lds_channel *channel)
{
    const struct lds_bench *in_bench = lds_bench_of(&w->asked->options->bench, w->asked->options->reference);
    struct lds_transfer_bins bins = {.bin_hz = w->info->rate_hz / (double)w->n,
                                     .bins = w->n / 2 + 1,
                                     .in = w->in,
                                     .out = w->out,
                                     .averages = 1.0,
                                     .fewest = FEWEST_BINS};
    bins.delay_s = delay_s(w, bins.bin_hz);
    struct lds_response response = {.bins = &bins,
                                    .bench = bench,
                                    .in_bench = in_bench,
                                    .in_volts = w->info->in_volts ? 1.0 : lds_bench_volts_per_unit(in_bench),
                                    .phase = true,
                                    .coherence = true};
    const double end_hz = fmin(LDS_USABLE_SHARE * w->info->rate_hz, fmin(bench->usable_to_hz, in_bench->usable_to_hz));
    find_range(&bins, end_hz, &response.low_hz, &response.high_hz);
    struct lds_transfer_point point;
    lds_transfer_at(&bins, 1000.0, LDS_RESPONSE_POINTS, &point);
    response.inverted = creal(point.gain) < 0.0;
    if (!(point.coherence >= LEAST_COHERENCE))
        return lds_channel_add_absent(channel, "response.gain",
                                      "the reference channel and this one have too little in common at 1 kHz "
                                      "(coherence %.2g): play a sweep or noise",
                                      point.coherence);
    return lds_response_figures(&response, channel);
}

static const struct lds_channel *reference_of(const struct work *w, const struct lds_measurement *measurement)
{
    for (size_t c = 0; c < measurement->channels; c++)
        if (measurement->channel[c].channel == w->asked->options->reference)
            return &measurement->channel[c];
    return NULL;
}

static double relative_u(const struct lds_figure *level, double u)
{
    return 20.0 / M_LN10 * u / level->value;
}

/* One steady tone gives the gain at its frequency. */
static bool add_gain_of_tone(const struct work *w, const struct lds_measurement *measurement,
                             struct lds_channel *channel)
{
    const struct lds_channel *reference = reference_of(w, measurement);
    const struct lds_figure *in = reference ? lds_channel_find(reference, LDS_FIGURE_TONE_LEVEL) : NULL;
    const struct lds_figure *out = lds_channel_find(channel, LDS_FIGURE_TONE_LEVEL);
    const struct lds_figure *hz = lds_channel_find(channel, LDS_FIGURE_TONE_FREQUENCY);
    if (!in || !out || !hz || fabs(channel->signal.frequency_hz[0] - reference->signal.frequency_hz[0]) > SAME_HZ)
        return lds_channel_add_absent(channel, "gain", "channel %d does not hold the tone of this channel",
                                      w->asked->options->reference);
    if (!channel->calibrated || !reference->calibrated)
        return lds_channel_add_absent(channel, "gain", "the bench does not state the volts of both channels");
    const double value = 20.0 * log10(out->value / in->value), at_hz = hz->value;
    const double u_a = hypot(relative_u(out, out->u_a), relative_u(in, in->u_a)),
                 u_b = hypot(relative_u(out, out->u_b), relative_u(in, in->u_b));
    struct lds_figure *gain = lds_channel_add(channel, "gain"); /* which may move the other figures in memory */
    lds_figure_set_normal(gain, value, u_a, INFINITY);
    lds_figure_add_bench(gain, u_b);
    snprintf(gain->conditions, sizeof gain->conditions, "at %.5g Hz", at_hz);
    return true;
}

static enum lds_status measure_channel(struct work *w, size_t c, struct lds_measurement *measurement)
{
    struct lds_channel *channel = &measurement->channel[c];
    const enum lds_signal_kind kind = channel->signal.kind;
    bool memory = true;
    if (kind == LDS_SIGNAL_SINE)
        memory = add_gain_of_tone(w, measurement, channel);
    if (!lds_signal_has(kind, LDS_PLAYS_BROAD)) { /* a response needs a broad signal, not a few tones */
        memory = memory && lds_channel_add_absent(channel, "response.gain",
                                                  "%s does not show the response: play a sweep or noise",
                                                  lds_signal_phrase(kind));
        return memory ? LDS_OK : lds_fail_memory(w->error, "the record");
    }
    enum lds_status status = read_spectrum(w, w->asked->channel[c], w->out);
    if (!status && !add_response(w, &w->asked->bench[c], channel))
        status = lds_fail_memory(w->error, "the response");
    return status;
}

enum lds_status lds_reference_measure(struct lds_capture *capture, const struct lds_asked *asked,
                                      struct lds_measurement *measurement, struct lds_error *error)
{
    struct work w = {
        .capture = capture, .info = lds_capture_info(capture), .asked = asked, .error = error, .n = MOST_FRAMES};
    if (w.info->frames < MOST_FRAMES)
        w.n = (size_t)w.info->frames & ~(size_t)1;
    w.in = malloc((w.n / 2 + 1) * sizeof *w.in);
    w.out = malloc((w.n / 2 + 1) * sizeof *w.out);
    enum lds_status status =
        w.in && w.out ? read_spectrum(&w, asked->options->reference - 1, w.in) : lds_fail_memory(error, "the response");
    for (size_t c = 0; !status && c < asked->channels; c++) {
        if (asked->channel[c] == asked->options->reference - 1)
            continue;
        status = measure_channel(&w, c, measurement);
        lds_figures_bound(measurement->channel[c].figure, measurement->channel[c].figures);
    }
    free(w.in);
    free(w.out);
    if (lds_scarce_take() && !status)
        status = lds_fail_memory(error, "the record");
    return status;
}
