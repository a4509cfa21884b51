#include "measure/known/resample.h"

#include <gsl/gsl_sf_bessel.h>
#include <gsl/gsl_sf_trig.h>
#include <math.h>
#include <pthread.h>
#include <stdbool.h>

enum { HALF = 48, TAPS = 2 * HALF, PHASES = 2048 };
static const double BETA = 12.0; /* side lobes of -118 dB (Kaiser's formula) */

/* Row p has the weights of the samples from HALF - 1 before to HALF after a time that is p/PHASES past a sample. */
static double weights[(PHASES + 1) * TAPS];

static void make_weights(void)
{
    const double top = gsl_sf_bessel_I0(BETA);
    for (int p = 0; p <= PHASES; p++)
        for (int k = 0; k < TAPS; k++) {
            const double t = (double)p / PHASES + HALF - 1 - k, u = t / HALF;
            const double window = u * u < 1.0 ? gsl_sf_bessel_I0(BETA * sqrt(1.0 - u * u)) : 1.0;
            weights[p * TAPS + k] = fabs(u) > 1.0 ? 0.0 : gsl_sf_sinc(t) * window / top;
        }
}

static double weighted(const double *x, const double *w, const double *next, double share)
{
    double one = 0.0, other = 0.0;
    for (int k = 0; k < TAPS; k++) {
        one += x[k] * w[k];
        other += x[k] * next[k];
    }
    return one + share * (other - one);
}

/* The samples around a time near an end, with zeros beyond. */
static const double *with_zeros(const double *x, size_t n, double begin, double *padded)
{
    for (int k = 0; k < TAPS; k++) {
        const double at = begin + k;
        padded[k] = at >= 0.0 && at < (double)n ? x[(size_t)at] : 0.0;
    }
    return padded;
}

void lds_resample(const double *x, size_t n, double first, double step, size_t count, double *out)
{
    static pthread_once_t once = PTHREAD_ONCE_INIT;
    pthread_once(&once, make_weights);
    double padded[TAPS];
    for (size_t i = 0; i < count; i++) {
        const double at = first + (double)i * step, whole = floor(at), phase = (at - whole) * PHASES;
        const double begin = whole - (HALF - 1);
        const int row = (int)phase;
        const bool inside = begin >= 0.0 && begin + TAPS <= (double)n;
        const double *near = inside ? x + (size_t)begin : with_zeros(x, n, begin, padded);
        out[i] = weighted(near, weights + row * TAPS, weights + (row < PHASES ? row + 1 : row) * TAPS, phase - row);
    }
}
