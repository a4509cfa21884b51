/* Impulses and the shape of the noise's distribution, in the noise from 2 to 20 kHz without the tone's harmonics. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "measure/analyser.h"
#include "measure/statistics/median.h"
#include "measure/statistics/uncertainty.h"
#include "record/record.h"
#include "spectrum/fft.h"
#include "spectrum/simd.h"

/* Where the level's rate allows it, the frame is transformed back at half the rate, as the bins above 20 kHz are
 * removed anyway. Frames step by a quarter, so the middle quarter of each, with its window divided out, gives new
 * samples. The window is above a half there; farther out, dividing by it would amplify what the removed bins spread
 * over the frame. */
struct bursts {
    const struct lds_plan_level *level;
    int stride; /* samples of the level per sample used */
    double rate_hz;
    fftw_plan forward;
    double *samples;     /* n + 2: transformed in place */
    unsigned char *keep; /* bins that are noise and within the band */
    int kept;
    double band_hz[2];
    double sigma; /* robust, smoothed over frames */
    double second, fourth;
    int64_t count, impulses;
    double last_impulse_s;
};

static const double LIMIT_SIGMA = 5.5;
static const double APART_S = 1e-3;
static const double SMOOTH = 0.25;
enum { SIGMA_STRIDE = 4, LOW_HZ = 2000, HIGH_HZ = 20000 };

static void mark_bins(struct bursts *b, double tone_hz)
{
    double bin_hz = b->level->rate_hz / b->level->n;
    for (int i = 0; i <= b->level->n / 2; i++) {
        double f = i * bin_hz;
        bool in = f >= b->band_hz[0] && f <= b->band_hz[1];
        if (in && !isnan(tone_hz)) {
            double off = fabs(f - tone_hz * fmax(1.0, round(f / tone_hz)));
            in = off > (LDS_LOBE_BINS + 1) * bin_hz;
        }
        b->keep[i] = in;
        b->kept += in;
    }
}

static void free_state(void *state)
{
    struct bursts *b = state;
    lds_fft_free(b->forward);
    fftw_free(b->samples);
    free(b->keep);
    free(b);
}

static bool make(const struct lds_findings *start, void **state)
{
    struct bursts *b = *state = calloc(1, sizeof *b);
    if (!b)
        return false;
    b->level = &start->shape->plan->level[start->audio];
    size_t n = (size_t)b->level->n;
    b->stride = b->level->rate_hz > 4.2 * HIGH_HZ ? 2 : 1;
    b->rate_hz = b->level->rate_hz / b->stride;
    n /= (size_t)b->stride;
    b->band_hz[0] = LOW_HZ;
    b->band_hz[1] = fmin(HIGH_HZ, b->level->high_hz);
    b->last_impulse_s = -INFINITY;
    b->samples = fftw_alloc_real(n + 2);
    b->keep = calloc((size_t)b->level->n / 2 + 1, 1);
    if (b->samples && b->keep)
        b->forward = lds_fft_real((int)n, b->samples, (double complex *)b->samples);
    if (!b->forward)
        return false;
    mark_bins(b, lds_findings_line_hz(start));
    return true;
}

/* sigma = MAD / 0.6745, from every fourth sample. */
static double robust_sigma(const double *x, size_t n, double *scratch)
{
    size_t count = 0;
    for (size_t i = 0; i < n; i += SIGMA_STRIDE)
        scratch[count++] = fabs(x[i]);
    return lds_median(scratch, count) / 0.6745;
}

/* Makes the n samples whose transform is the spectrum, n times as large, and moves the middle `count` of them to the
 * front. The Hartley transform is its own inverse (Bracewell, J. Opt. Soc. Am. 73 (1983) 1832; from memory), so FFTW's
 * forward transform serves, which is faster than its backward one: h[k] = Re X[k] - Im X[k] becomes x[j] = Re Y[j] - Im
 * Y[j]. */
static void transform_back(struct bursts *b, const double complex *spectrum, size_t n, size_t count)
{
    double *h = b->samples;
    h[0] = b->keep[0] ? creal(spectrum[0]) : 0.0;
    h[n / 2] = b->keep[n / 2] ? creal(spectrum[n / 2]) : 0.0;
    for (size_t k = 1; k < n / 2; k++) {
        double complex bin = b->keep[k] ? spectrum[k] : 0.0;
        h[k] = creal(bin) - cimag(bin);
        h[n - k] = creal(bin) + cimag(bin);
    }
    fftw_execute(b->forward);
    const size_t half = count / 2, first = n / 2 - half;
    const double complex *y = (double complex *)b->samples + first; /* beyond what is written, as count <= n/2 */
    h[0] = creal(y[0]) - cimag(y[0]);
    for (size_t j = 1; j <= half; j++) {
        double re = creal(y[j]), im = cimag(y[j]);
        h[count - j] = re + im;
        h[j] = re - im;
    }
}

/* Sums of squares and fourth powers. */
LDS_HOT static void add_moments(const double *x, size_t n, double *second, double *fourth)
{
    lds_four squares = {0}, fourths = {0};
    size_t i = 0;
    for (; i + 4 <= n; i += 4) {
        lds_four square = *(const lds_four *)(x + i) * *(const lds_four *)(x + i);
        squares += square;
        fourths += square * square;
    }
    for (; i < n; i++) {
        squares[0] += x[i] * x[i];
        fourths[0] += x[i] * x[i] * x[i] * x[i];
    }
    for (int k = 0; k < 4; k++) {
        *second += squares[k];
        *fourth += fourths[k];
    }
}

LDS_HOT static void divide(double *restrict x, const double *restrict window, size_t stride, size_t n, double scale)
{
    for (size_t i = 0; i < n; i++)
        x[i] /= window[stride * i] * scale;
}

static bool push(void *state, const struct lds_frame *frame)
{
    struct bursts *b = state;
    if (b->kept < b->level->n / 64)
        return true;
    size_t stride = (size_t)b->stride, n = (size_t)b->level->n / stride, count = (size_t)b->level->hop / stride;
    double *x = b->samples;
    transform_back(b, frame->spectrum, n, count);
    divide(x, b->level->window + stride * (n - count) / 2, stride, count, (double)b->level->n);
    add_moments(x, count, &b->second, &b->fourth);
    double sigma = robust_sigma(x, count, x + count);
    b->sigma = b->sigma > 0.0 ? SMOOTH * sigma + (1.0 - SMOOTH) * b->sigma : sigma;
    double limit = LIMIT_SIGMA * b->sigma;
    double start_s = frame->centre_s - 0.5 * (double)count / b->rate_hz;
    for (size_t i = 0; i < count; i++) {
        if (fabs(x[i]) > limit && limit > 0.0) {
            double at_s = start_s + (double)i / b->rate_hz;
            if (at_s - b->last_impulse_s > APART_S)
                b->impulses++;
            b->last_impulse_s = at_s;
        }
    }
    b->count += (int64_t)count;
    return true;
}

static void set_band(struct lds_figure *figure, const struct bursts *b)
{
    figure->band_hz[0] = b->band_hz[0];
    figure->band_hz[1] = b->band_hz[1];
}

/* A Poisson count, and a kurtosis whose variance is 24/n (Fisher 1930), n being the number of independent samples: 2 B
 * T. */
static bool figures(const void *state, struct lds_channel *channel, const struct lds_findings *findings)
{
    const struct bursts *b = state;
    const char *why = lds_findings_no_noise(findings);
    if (!why && (b->count == 0 || b->second <= 0.0))
        why = "the band from 2 to 20 kHz holds no noise to look at";
    if (why)
        return lds_channel_all_absent(channel, why, "noise.bursts", "noise.kurtosis");
    double n = (double)b->count, seconds = n / b->rate_hz, minutes = seconds / 60.0, count = (double)b->impulses;
    double low, high;
    lds_poisson_limits(count, &low, &high);
    struct lds_figure *figure = lds_channel_add(channel, "noise.bursts");
    lds_figure_set(figure, count / minutes, low / minutes, high / minutes, sqrt(fmax(1.0, count)) / minutes, INFINITY);
    set_band(figure, b);
    figure = lds_channel_add(channel, "noise.kurtosis");
    double independent = 2.0 * b->kept * b->level->rate_hz / b->level->n * seconds;
    lds_figure_set_normal(figure, b->fourth * n / (b->second * b->second) - 3.0, sqrt(24.0 / independent), INFINITY);
    set_band(figure, b);
    return true;
}

const struct lds_analyser lds_analyse_bursts = {
    .still = true, .make = make, .frame = push, .figures = figures, .free = free_state};
