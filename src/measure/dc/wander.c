#include "measure/dc/wander.h"

#include <math.h>
#include <string.h>

#include "spectrum/fft.h"

static const double LOW_HZ = 0.01, HIGH_HZ = 1.0;
static const double NOISE_HZ[2] = {2.0, 5.0};
/* Left out at each end: the mirrored course has a kink there, of which the band cuts off a part. */
static const double ENDS_S = 1.0;
static const double SHORTEST_S = 99.5; /* 100 s less what the filters take at the ends */

struct work {
    size_t n;
    double step_s, bin_hz;
    double *x, *part; /* the cosine transform, which mirrors the course at its ends, so that the last sample need not
                         equal the first; and one part of it */
    fftw_plan there, back;
};

/* Largest less smallest value of the course's part from low_hz to below high_hz. */
static double range_of(struct work *w, double low_hz, double high_hz)
{
    double low = INFINITY, high = -INFINITY;
    for (size_t k = 0; k < w->n; k++) {
        double hz = (double)k * w->bin_hz;
        w->part[k] = hz >= low_hz && hz < high_hz ? w->x[k] * 0.5 / (double)w->n : 0.0;
    }
    fftw_execute(w->back);
    size_t ends = (size_t)(ENDS_S / w->step_s);
    for (size_t i = ends; i + ends < w->n; i++) {
        low = fmin(low, w->part[i]);
        high = fmax(high, w->part[i]);
    }
    return high - low;
}

/* Rms of white noise in a band of 1 Hz, from the noise at slightly higher frequencies, which counts as white, as the
 * recorder's own is. */
static double noise_rms(const struct work *w)
{
    double square = 0.0, count = 0.0;
    for (size_t k = 1; k < w->n; k++) {
        double hz = (double)k * w->bin_hz, gain = lds_dc_stream_gain(hz);
        if (hz < NOISE_HZ[0] || hz > NOISE_HZ[1])
            continue;
        square += 0.5 * w->x[k] * w->x[k] / ((double)w->n * (double)w->n * gain * gain);
        count += 1.0;
    }
    return count > 0.0 ? sqrt(square / count / w->bin_hz) : 0.0;
}

bool lds_dc_wander_find(const struct lds_dc_course *course, size_t first, const struct lds_dc_decay *decay,
                        struct lds_dc_wander *wander)
{
    *wander = (struct lds_dc_wander){NAN, NAN, NAN};
    if (first >= course->n || (double)(course->n - first) * course->step_s < SHORTEST_S)
        return true;
    struct work w = {.n = course->n - first, .step_s = course->step_s};
    w.bin_hz = 1.0 / (2.0 * (double)w.n * course->step_s);
    w.x = fftw_alloc_real(w.n);
    w.part = fftw_alloc_real(w.n);
    bool memory = w.x && w.part;
    w.there = memory ? lds_fft_cosine((int)w.n, w.x, false) : NULL;
    w.back = memory ? lds_fft_cosine((int)w.n, w.part, true) : NULL;
    memory = w.there && w.back;
    if (memory) {
        for (size_t i = 0; i < w.n; i++)
            w.x[i] = course->x[first + i] - lds_dc_decay_at(decay, course, first + i);
        fftw_execute(w.there);
        wander->range = range_of(&w, LOW_HZ, HIGH_HZ);
        wander->below = range_of(&w, 0.5 * w.bin_hz, LOW_HZ);
        wander->noise = noise_rms(&w);
    }
    lds_fft_free(w.there);
    lds_fft_free(w.back);
    fftw_free(w.x);
    fftw_free(w.part);
    return memory;
}
