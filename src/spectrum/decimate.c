#include "spectrum/decimate.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include <gsl/gsl_sf_bessel.h>

#include "spectrum/simd.h"

enum { STAGES_MAX = 16 };
static const double REJECTION_DB = 175.0;

/* One half-band stage: y[k] = x[2k]/2 + sum_j h[j] (x[2k+2j+1] + x[2k-2j-1]). Even and odd samples are stored
 * separately, so that the inner loop reads adjacent doubles. */
struct stage {
    int taps; /* M: coefficients on each side */
    double *h;
    double *even, *odd; /* samples still needed, oldest first */
    size_t evens, odds;
    bool next_is_odd;
    double *out;
};

struct lds_decimator {
    int stages;
    struct stage stage[STAGES_MAX];
};

/* Kaiser's design (Kaiser 1974; Oppenheim and Schafer, Discrete-Time Signal Processing): beta = 0.1102 (A - 8.7),
 * length - 1 = (A - 8)/(2.285 dw), for the ideal half-band response sin(pi n/2)/(pi n). */
static bool design(struct stage *stage, double passband)
{
    double transition = 2.0 * M_PI * (0.5 - 2.0 * passband);
    int length = (int)ceil((REJECTION_DB - 8.0) / (2.285 * transition)) + 1;
    int m = (length + 4) / 4;
    double beta = 0.1102 * (REJECTION_DB - 8.7);
    stage->taps = m;
    stage->h = malloc((size_t)m * sizeof *stage->h);
    if (!stage->h)
        return false;
    double sum = 0.0;
    for (int j = 0; j < m; j++) {
        double n = 2.0 * j + 1.0;
        double t = n / (2.0 * m);
        double kaiser = gsl_sf_bessel_I0_scaled(beta * sqrt(1.0 - t * t)) / gsl_sf_bessel_I0_scaled(beta) *
                        exp(beta * (sqrt(1.0 - t * t) - 1.0));
        stage->h[j] = (j % 2 ? -1.0 : 1.0) / (M_PI * n) * kaiser;
        sum += stage->h[j];
    }
    for (int j = 0; j < m; j++)
        stage->h[j] *= 0.25 / sum; /* unit gain at DC */
    return true;
}

struct lds_decimator *lds_decimator_new(int stages, double passband, size_t chunk)
{
    struct lds_decimator *d = calloc(1, sizeof *d);
    if (!d)
        return NULL;
    d->stages = stages;
    for (int i = 0; i < stages; i++) {
        struct stage *s = &d->stage[i];
        size_t in = (chunk >> i) + 2;
        /* passband as a fraction of this stage's input rate */
        if (!design(s, ldexp(passband, i - stages)))
            goto fail;
        size_t room = in / 2 + 2 + 2 * (size_t)s->taps + 16;
        s->even = malloc(room * sizeof *s->even);
        s->odd = malloc(room * sizeof *s->odd);
        s->out = malloc((in / 2 + 18) * sizeof *s->out);
        if (!s->even || !s->odd || !s->out)
            goto fail;
    }
    return d;
fail:
    lds_decimator_free(d);
    return NULL;
}

void lds_decimator_free(struct lds_decimator *decimator)
{
    if (!decimator)
        return;
    for (int i = 0; i < decimator->stages; i++) {
        free(decimator->stage[i].h);
        free(decimator->stage[i].even);
        free(decimator->stage[i].odd);
        free(decimator->stage[i].out);
    }
    free(decimator);
}

LDS_HOT static void split(struct stage *s, const double *x, size_t n)
{
    size_t i = 0;
    if (s->next_is_odd && n > 0) {
        s->odd[s->odds++] = x[i++];
        s->next_is_odd = false;
    }
    double *even = s->even + s->evens, *odd = s->odd + s->odds;
    size_t pairs = (n - i) / 2;
    for (size_t k = 0; k < pairs; k++) {
        even[k] = x[i + 2 * k];
        odd[k] = x[i + 2 * k + 1];
    }
    s->evens += pairs;
    s->odds += pairs;
    i += 2 * pairs;
    if (i < n) {
        s->even[s->evens++] = x[i];
        s->next_is_odd = true;
    }
}

enum { AT_ONCE = 4 };

/* Sixteen outputs at a time stay in registers, so that no addition waits for the one before it. even[k] is the centre,
 * odd[k + j] and odd[k - 1 - j] are its neighbours. */
LDS_HOT static void filter(const double *restrict h, int taps, const double *restrict even, const double *restrict odd,
                           double *restrict out, size_t count)
{
    size_t i = 0;
    for (; i + 4 * AT_ONCE <= count; i += 4 * AT_ONCE) {
        lds_four sum[AT_ONCE];
        for (int v = 0; v < AT_ONCE; v++)
            sum[v] = 0.5 * ((const lds_four *)(even + i))[v];
        const double *up = odd + i, *down = odd + i - 1;
        for (int j = 0; j < taps; j++, up++, down--)
            for (int v = 0; v < AT_ONCE; v++)
                sum[v] += h[j] * (((const lds_four *)up)[v] + ((const lds_four *)down)[v]);
        for (int v = 0; v < AT_ONCE; v++)
            ((lds_four *)(out + i))[v] = sum[v];
    }
    for (; i < count; i++) {
        double sum = 0.5 * even[i];
        for (int j = 0; j < taps; j++)
            sum += h[j] * (odd[i + (size_t)j] + (odd + i)[-1 - j]);
        out[i] = sum;
    }
}

static size_t run(struct stage *s, const double *x, size_t n)
{
    size_t m = (size_t)s->taps;
    split(s, x, n);
    /* Output k needs even[k] and odd[k - m] .. odd[k + m - 1]; the first sample held has k = 0. */
    size_t ready = s->odds >= 2 * m ? s->odds - 2 * m + 1 : 0;
    if (s->evens < m + ready)
        ready = s->evens > m ? s->evens - m : 0;
    if (ready == 0)
        return 0;
    filter(s->h, s->taps, s->even + m, s->odd + m, s->out, ready);
    s->evens -= ready;
    s->odds -= ready;
    memmove(s->even, s->even + ready, s->evens * sizeof *s->even);
    memmove(s->odd, s->odd + ready, s->odds * sizeof *s->odd);
    return ready;
}

void lds_decimator_push(struct lds_decimator *decimator, const double *x, size_t n, const double **out,
                        size_t *produced)
{
    for (int i = 0; i < decimator->stages; i++) {
        n = run(&decimator->stage[i], x, n);
        x = decimator->stage[i].out;
    }
    *out = x;
    *produced = n;
}

size_t lds_decimator_delay(const struct lds_decimator *decimator)
{
    size_t delay = 0;
    for (int i = 0; i < decimator->stages; i++)
        delay += ((size_t)decimator->stage[i].taps * 2) << i;
    return delay;
}

double lds_decimator_gain(const struct lds_decimator *decimator, double frequency)
{
    double gain = 1.0;
    for (int i = 0; i < decimator->stages; i++) {
        const struct stage *s = &decimator->stage[i];
        double sum = 0.5;
        for (int j = 0; j < s->taps; j++)
            sum += 2.0 * s->h[j] * cos(2.0 * M_PI * ldexp(frequency, i) * (2.0 * j + 1.0));
        gain *= sum;
    }
    return gain;
}
