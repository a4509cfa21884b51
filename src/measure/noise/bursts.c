#include "measure/noise/bursts.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "measure/statistics/median.h"
#include "spectrum/fft.h"

/* Where the level's rate allows it, the frame is transformed back at half the rate, as the bins above 20 kHz are
 * removed anyway. Frames step by a quarter, so the middle quarter of each, with its window divided out, gives new
 * samples. The window is above a half there; farther out, dividing by it would amplify what the removed bins spread
 * over the frame. */
struct lds_bursts {
    const struct lds_plan_level *level;
    int stride; /* samples of the level per sample used */
    double rate_hz;
    fftw_plan inverse;
    double complex *spectrum;
    double *samples;
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
    b->spectrum = (double complex *)fftw_alloc_complex(n / 2 + 1);
    b->samples = fftw_alloc_real(n);
    b->keep = calloc((size_t)b->level->n / 2 + 1, 1);
    if (b->spectrum && b->samples && b->keep)
        b->inverse = lds_fft_real_back((int)n, b->spectrum, b->samples);
    if (!b->inverse) {
        lds_bursts_free(b);
        return NULL;
    }
    mark_bins(b, tone_hz);
    return b;
}

void lds_bursts_free(struct lds_bursts *bursts)
{
    if (!bursts)
        return;
    lds_fft_free(bursts->inverse);
    fftw_free(bursts->spectrum);
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

void lds_bursts_frame(struct lds_bursts *b, const struct lds_frame *frame)
{
    if (b->kept < b->level->n / 64)
        return;
    size_t stride = (size_t)b->stride, n = (size_t)b->level->n / stride, count = (size_t)b->level->hop / stride;
    size_t first = (n - count) / 2;
    for (size_t i = 0; i <= n / 2; i++)
        b->spectrum[i] = b->keep[i] ? frame->spectrum[i] : 0.0;
    fftw_execute(b->inverse);
    double *x = b->samples + first;
    for (size_t i = 0; i < count; i++)
        x[i] /= b->level->window[stride * (first + i)] * (double)b->level->n;
    double sigma = robust_sigma(x, count, b->samples);
    b->sigma = b->sigma > 0.0 ? SMOOTH * sigma + (1.0 - SMOOTH) * b->sigma : sigma;
    double limit = LIMIT_SIGMA * b->sigma;
    double start_s = frame->centre_s - 0.5 * (double)count / b->rate_hz;
    for (size_t i = 0; i < count; i++) {
        double square = x[i] * x[i];
        b->second += square;
        b->fourth += square * square;
        if (fabs(x[i]) > limit && limit > 0.0) {
            double at_s = start_s + (double)i / b->rate_hz;
            if (at_s - b->last_impulse_s > APART_S)
                b->impulses++;
            b->last_impulse_s = at_s;
        }
    }
    b->count += (int64_t)count;
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
