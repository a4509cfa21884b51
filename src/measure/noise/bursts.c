#include "measure/noise/bursts.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "measure/statistics/median.h"
#include "spectrum/fft.h"
#include "spectrum/simd.h"

/* Where the level's rate allows it, the frame is transformed back at half the rate, as the bins above 20 kHz are
 * removed anyway. Frames step by a quarter, so the middle quarter of each, with its window divided out, gives new
 * samples. The window is above a half there; farther out, dividing by it would amplify what the removed bins spread
 * over the frame. */
struct lds_bursts {
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
enum { SIGMA_STRIDE = 4 };

static void mark_bins(struct lds_bursts *b, double tone_hz)
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

struct lds_bursts *lds_bursts_new(const struct lds_plan *plan, double tone_hz)
{
    struct lds_bursts *b = calloc(1, sizeof *b);
    if (!b)
        return NULL;
    b->level = &plan->level[plan->audio];
    size_t n = (size_t)b->level->n;
    b->stride = b->level->rate_hz > 4.2 * LDS_BURST_HIGH_HZ ? 2 : 1;
    b->rate_hz = b->level->rate_hz / b->stride;
    n /= (size_t)b->stride;
    b->band_hz[0] = LDS_BURST_LOW_HZ;
    b->band_hz[1] = fmin(LDS_BURST_HIGH_HZ, b->level->high_hz);
    b->last_impulse_s = -INFINITY;
    b->samples = fftw_alloc_real(n + 2);
    b->keep = calloc((size_t)b->level->n / 2 + 1, 1);
    if (b->samples && b->keep)
        b->forward = lds_fft_real((int)n, b->samples, (double complex *)b->samples);
    if (!b->forward) {
        lds_bursts_free(b);
        return NULL;
    }
    mark_bins(b, tone_hz);
    return b;
}

void lds_bursts_free(void *state)
{
    struct lds_bursts *bursts = state;
    if (!bursts)
        return;
    lds_fft_free(bursts->forward);
    fftw_free(bursts->samples);
    free(bursts->keep);
    free(bursts);
}

/* sigma = MAD / 0.6745, from every fourth sample. */
static double robust_sigma(const double *x, size_t n, double *scratch)
{
    size_t count = 0;
    for (size_t i = 0; i < n; i += SIGMA_STRIDE)
        scratch[count++] = fabs(x[i]);
    return lds_median(scratch, count) / 0.6745;
}

/* The middle `count` of the n samples whose transform is the spectrum, n times as large; they come to the front. The
 * Hartley transform is its own inverse (Bracewell, J. Opt. Soc. Am. 73 (1983) 1832; from memory), so FFTW's forward
 * transform does it, which is faster than the one back: h[k] = Re X[k] - Im X[k] becomes x[j] = Re Y[j] - Im Y[j]. */
static void transform_back(struct lds_bursts *b, const double complex *spectrum, size_t n, size_t count)
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

bool lds_bursts_frame(void *state, const struct lds_frame *frame)
{
    struct lds_bursts *b = state;
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

void lds_bursts_finish(const struct lds_bursts *b, struct lds_bursts_result *result)
{
    memset(result, 0, sizeof *result);
    result->band_hz[0] = b->band_hz[0];
    result->band_hz[1] = b->band_hz[1];
    if (b->count == 0 || b->second <= 0.0)
        return;
    result->usable = true;
    result->seconds = (double)b->count / b->rate_hz;
    result->impulses = b->impulses;
    double n = (double)b->count;
    result->kurtosis = b->fourth * n / (b->second * b->second) - 3.0;
    result->independent = 2.0 * b->kept * b->level->rate_hz / b->level->n * result->seconds;
}
