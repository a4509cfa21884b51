#include "simulate/signals.h"

#include <complex.h>
#include <fftw3.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

double *sim_samples(size_t n)
{
    double *x = calloc(n, sizeof *x);
    if (x == NULL) {
        fprintf(stderr, "out of memory for %zu samples\n", n);
        exit(1);
    }
    return x;
}

/* The integral of f(t) = f0 (1 + creep (t/T - 1/2) + swing sin(2 pi p t/T)), 0 <= t < T, in radians. */
static double tone_phase(const struct sim_tone *tone, double t, double seconds)
{
    const double u = t / seconds;
    double warp = u + 1e-6 * tone->creep_ppm * 0.5 * u * (u - 1.0);
    if (tone->swing_ppm != 0.0) {
        const double w = 2.0 * M_PI * tone->swing_periods;
        warp += 1e-6 * tone->swing_ppm * (1.0 - cos(w * u)) / w;
    }
    return 2.0 * M_PI * tone->frequency_hz * seconds * warp + tone->phase_rad;
}

/* Samples worked on together, so that the sums below run over arrays. */
enum { BLOCK = 256 };

/* sum[i] = Re(sum over k of line[k] z_i^k), k = 1..orders, z_i = c[i] + I s[i], by Horner's rule. */
static void sum_orders(double *sum, const double *c, const double *s, const double complex *line, int orders)
{
    double re[BLOCK] = {0.0}, im[BLOCK] = {0.0};
    for (int k = orders; k >= 1; k--) {
        const double a = creal(line[k]), b = cimag(line[k]);
        for (int i = 0; i < BLOCK; i++) {
            const double r = re[i] + a, j = im[i] + b;
            re[i] = r * c[i] - j * s[i];
            im[i] = r * s[i] + j * c[i];
        }
    }
    for (int i = 0; i < BLOCK; i++)
        sum[i] = re[i];
}

void sim_add_tone(double *x, size_t n, double rate_hz, const struct sim_tone *tone)
{
    const double seconds = (double)n / rate_hz;
    const double drift = tone->drift_db_per_min / 60.0 * log(10.0) / 20.0;
    double complex line[SIM_ORDERS + 1] = {0.0, M_SQRT2 * tone->level};
    for (int k = 2; k <= tone->orders; k++)
        line[k] = M_SQRT2 * tone->level * tone->relative[k] * cexp(I * tone->relative_rad[k]);
    for (size_t begin = 0; begin < n; begin += BLOCK) {
        double c[BLOCK] = {0.0}, s[BLOCK] = {0.0}, sum[BLOCK];
        const size_t count = n - begin < BLOCK ? n - begin : BLOCK;
        for (size_t i = 0; i < count; i++)
            sincos(tone_phase(tone, (double)(begin + i) / rate_hz, seconds), &s[i], &c[i]);
        sum_orders(sum, c, s, line, tone->orders > 1 ? tone->orders : 1);
        for (size_t i = 0; i < count; i++) {
            const double t = (double)(begin + i) / rate_hz;
            x[begin + i] += drift == 0.0 ? sum[i] : exp(drift * (t - 0.5 * seconds)) * sum[i];
        }
    }
}

void sim_add_modulated(double *x, size_t n, double rate_hz, double frequency_hz, double level, double phase_rad,
                       const struct sim_modulation *modulation, size_t count)
{
    for (size_t i = 0; i < n; i++) {
        const double t = (double)i / rate_hz;
        double amplitude = 1.0, phase = phase_rad;
        for (size_t m = 0; m < count; m++) {
            const double by =
                modulation[m].depth * sin(2.0 * M_PI * modulation[m].frequency_hz * t + modulation[m].phase_rad);
            *(modulation[m].of_phase ? &phase : &amplitude) += by;
        }
        x[i] += M_SQRT2 * level * amplitude * cos(2.0 * M_PI * frequency_hz * t + phase);
    }
}

double sim_tone_thd_db(const struct sim_tone *tone, int last)
{
    double sum = 0.0;
    for (int k = 2; k <= tone->orders && k <= last; k++)
        sum += tone->relative[k] * tone->relative[k];
    return 10.0 * log10(sum);
}

void sim_add_mains(double *x, size_t n, double rate_hz, const struct sim_mains *mains)
{
    const double seconds = (double)n / rate_hz;
    double complex line[SIM_ORDERS + 1];
    for (int k = 1; k <= mains->orders; k++)
        line[k] = M_SQRT2 * mains->level[k] * cexp(I * mains->phase_rad[k]);
    const double w = mains->wander_periods > 0.0 ? 2.0 * M_PI * mains->wander_periods / seconds : 1.0;
    for (size_t begin = 0; begin < n; begin += BLOCK) {
        double c[BLOCK] = {0.0}, s[BLOCK] = {0.0}, sum[BLOCK];
        const size_t count = n - begin < BLOCK ? n - begin : BLOCK;
        for (size_t i = 0; i < count; i++) {
            const double t = (double)(begin + i) / rate_hz;
            const double swing = mains->wander_hz == 0.0 ? 0.0 : mains->wander_hz * (1.0 - cos(w * t)) / w;
            sincos(2.0 * M_PI * (mains->frequency_hz * t + swing), &s[i], &c[i]);
        }
        sum_orders(sum, c, s, line, mains->orders);
        for (size_t i = 0; i < count; i++)
            x[begin + i] += sum[i];
    }
}

void sim_add_white(double *x, size_t n, double rate_hz, double density, struct sim_random *random)
{
    const double sigma = density * sqrt(0.5 * rate_hz);
    for (size_t i = 0; i < n; i++)
        x[i] += sigma * sim_random_gaussian(random);
}

struct sim_colour {
    size_t n, length;
    double *gain; /* length/2 + 1: standard deviation of each part of a bin */
    fftw_complex *bins;
    double *samples;
    fftw_plan plan;
};

struct sim_colour *sim_colour_new(size_t n, double rate_hz, double (*density)(double, const void *),
                                  const void *context)
{
    struct sim_colour *colour = calloc(1, sizeof *colour);
    if (colour == NULL)
        exit(1);
    size_t length = 2;
    while (length < 2 * n)
        length *= 2;
    colour->n = n;
    colour->length = length;
    colour->gain = sim_samples(length / 2 + 1);
    colour->bins = fftw_alloc_complex(length / 2 + 1);
    colour->samples = fftw_alloc_real(length);
    if (colour->bins == NULL || colour->samples == NULL)
        exit(1);
    colour->plan = fftw_plan_dft_c2r_1d((int)length, colour->bins, colour->samples, FFTW_ESTIMATE);
    const double bin_hz = rate_hz / (double)length;
    /* A bin g (a + ib), a and b normal, gives x a variance of 4 g^2 through FFTW's unnormalised inverse; it must be
     * S times the bin's width. */
    for (size_t k = 1; k <= length / 2; k++)
        colour->gain[k] = 0.5 * sqrt(density((double)k * bin_hz, context) * bin_hz);
    return colour;
}

void sim_colour_add(struct sim_colour *colour, double *x, struct sim_random *random)
{
    const size_t half = colour->length / 2;
    colour->bins[0] = 0.0;
    for (size_t k = 1; k < half; k++) {
        const double re = sim_random_gaussian(random);
        const double im = sim_random_gaussian(random);
        colour->bins[k] = colour->gain[k] * (re + I * im);
    }
    colour->bins[half] = M_SQRT2 * colour->gain[half] * sim_random_gaussian(random);
    fftw_execute(colour->plan);
    for (size_t i = 0; i < colour->n; i++)
        x[i] += colour->samples[i];
}

void sim_colour_free(struct sim_colour *colour)
{
    if (colour == NULL)
        return;
    fftw_destroy_plan(colour->plan);
    fftw_free(colour->bins);
    fftw_free(colour->samples);
    free(colour->gain);
    free(colour);
}

double sim_flicker_density(double frequency_hz, const void *flicker)
{
    const struct sim_flicker *f = flicker;
    return f->power * (1.0 + f->corner_hz / frequency_hz);
}

void sim_quantise(double *x, size_t n, int bits, struct sim_random *random)
{
    const double scale = ldexp(1.0, bits - 1);
    for (size_t i = 0; i < n; i++) {
        double v = x[i] * scale;
        if (random != NULL)
            v += sim_random_uniform(random) - sim_random_uniform(random);
        v = nearbyint(v);
        x[i] = fmin(fmax(v, -scale), scale - 1.0) / scale;
    }
}

void sim_polynomial(double *x, size_t n, const double *coefficient, size_t count)
{
    for (size_t i = 0; i < n; i++) {
        double y = 0.0;
        for (size_t j = count; j-- > 0;)
            y = y * x[i] + coefficient[j];
        x[i] = y;
    }
}

void sim_clip(double *x, size_t n, double level)
{
    for (size_t i = 0; i < n; i++)
        x[i] = fmin(fmax(x[i], -level), level);
}
