/* The generators of simulated signals, checked against the definitions of their signals: a simulation is only as good
 * as its input. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>

#include <cmocka.h>

#include "simulate/check.h"
#include "simulate/signals.h"

static double mean_square(const double *x, size_t n)
{
    double sum = 0.0;
    for (size_t i = 0; i < n; i++)
        sum += x[i] * x[i];
    return sum / (double)n;
}

/* Amplitude of the tone at frequency_hz by the defining sum over a whole number of its periods. */
static double amplitude(const double *x, size_t n, double rate_hz, double frequency_hz, double *phase)
{
    double c = 0.0, s = 0.0;
    for (size_t i = 0; i < n; i++) {
        const double w = 2.0 * M_PI * frequency_hz * (double)i / rate_hz;
        c += x[i] * cos(w);
        s -= x[i] * sin(w);
    }
    if (phase != NULL)
        *phase = atan2(s, c);
    return 2.0 * hypot(c, s) / (double)n;
}

/* Four moments of a normal deviate and its tail beyond 3. n = 4e6: the standard errors of the moments are sqrt(1/n),
 * sqrt(2/n), sqrt(15/n), sqrt(96/n); five of them are allowed, for a seed that was not chosen. */
static void test_gaussian(void **state)
{
    (void)state;
    struct sim_random random;
    sim_random_seed(&random, 1);
    const int n = 4000000;
    double m[5] = {0};
    int beyond = 0;
    for (int i = 0; i < n; i++) {
        const double g = sim_random_gaussian(&random);
        double p = g;
        for (int k = 1; k <= 4; k++, p *= g)
            m[k] += p / n;
        beyond += fabs(g) > 3.7;
    }
    check_close(m[1], 0.0, 5.0 * sqrt(1.0 / n));
    check_close(m[2], 1.0, 5.0 * sqrt(2.0 / n));
    check_close(m[3], 0.0, 5.0 * sqrt(15.0 / n));
    check_close(m[4], 3.0, 5.0 * sqrt(96.0 / n));
    const double expected = n * erfc(3.7 / M_SQRT2); /* mostly from the tail beyond the last layer, 3.654 */
    check_close(beyond, expected, 5.0 * sqrt(expected));
}

/* The layers close: the same area all the way up leaves the top layer's height at 1 (Marsaglia and Tsang 2000). */
static void test_layers_close(void **state)
{
    (void)state;
    const double r = 3.6541528853610088, area = 4.92867323399e-3;
    double x = r, f = exp(-0.5 * r * r);
    for (int i = 2; i < 256; i++) {
        x = sqrt(-2.0 * log(area / x + f));
        f = exp(-0.5 * x * x);
    }
    check_close(area / x + f, 1.0, 1e-8);
}

static void test_tone(void **state)
{
    (void)state;
    enum { N = 48000 };
    double *x = sim_samples(N);
    struct sim_tone tone = {.frequency_hz = 1000.0, .level = 2.0, .phase_rad = 0.7, .orders = 3};
    tone.relative[2] = 1e-3;
    tone.relative_rad[2] = M_PI;
    tone.relative[3] = 1e-4;
    sim_add_tone(x, N, 48000.0, &tone);
    double phase;
    check_close(amplitude(x, N, 48000.0, 1000.0, &phase), 2.0 * M_SQRT2, 1e-9);
    check_close(phase, 0.7, 1e-9);
    check_close(amplitude(x, N, 48000.0, 2000.0, &phase), 2e-3 * M_SQRT2, 1e-9);
    check_close(cos(phase - 1.4 - M_PI), 1.0, 1e-9);
    check_close(amplitude(x, N, 48000.0, 3000.0, NULL), 2e-4 * M_SQRT2, 1e-9);
    check_close(sim_tone_thd_db(&tone, 20), 20.0 * log10(hypot(1e-3, 1e-4)), 1e-12);
    free(x);
}

/* Tone and comb with a moving frequency against a phase summed sample by sample (trapezoid). */
static void test_moving_frequency(void **state)
{
    (void)state;
    enum { N = 96000 };
    const double rate = 48000.0, seconds = N / rate;
    double *x = sim_samples(N), *m = sim_samples(N);
    const struct sim_tone tone = {.frequency_hz = 1000.0,
                                  .level = M_SQRT1_2,
                                  .creep_ppm = 200.0,
                                  .swing_ppm = 50.0,
                                  .swing_periods = 2.0,
                                  .drift_db_per_min = 6.0};
    sim_add_tone(x, N, rate, &tone);
    struct sim_mains mains = {.frequency_hz = 50.0, .wander_hz = 0.02, .wander_periods = 1.5, .orders = 5};
    mains.level[5] = M_SQRT1_2;
    sim_add_mains(m, N, rate, &mains);
    double theta = 0.0, comb = 0.0, worst = 0.0;
    for (int i = 0; i < N; i++) {
        const double t = i / rate;
        const double level = pow(10.0, 6.0 / 60.0 * (t - 0.5 * seconds) / 20.0);
        worst = fmax(worst, fabs(x[i] - level * cos(theta)));
        worst = fmax(worst, fabs(m[i] - cos(5.0 * comb)));
        const double u = (i + 0.5) / N; /* mid-step: the mid-point rule */
        theta += 2.0 * M_PI * 1000.0 / rate * (1.0 + 2e-4 * (u - 0.5) + 5e-5 * sin(4.0 * M_PI * u));
        comb += 2.0 * M_PI / rate * (50.0 + 0.02 * sin(3.0 * M_PI * u));
    }
    assert_true(worst < 1e-6); /* 1e5 steps, each rounded to 1e-12 rad at 1e4 rad */
    free(x);
    free(m);
}

/* Bands of a(1 + fc/f), against its integral a(B + fc ln(hi/lo)). Chi-square with 2BT degrees of freedom a capture; 40
 * captures, five standard deviations of the mean allowed. */
static void test_flicker(void **state)
{
    (void)state;
    enum { N = 48000, CAPTURES = 40 };
    const double rate = 48000.0;
    const struct sim_flicker flicker = {.power = 4.0, .corner_hz = 300.0};
    struct sim_colour *colour = sim_colour_new(N, rate, sim_flicker_density, &flicker);
    struct sim_random random;
    sim_random_seed(&random, 7);
    double low = 0.0, total = 0.0;
    for (int c = 0; c < CAPTURES; c++) {
        double *x = sim_samples(N);
        sim_colour_add(colour, x, &random);
        total += mean_square(x, N) / CAPTURES;
        for (int k = 20; k < 40; k++) /* 1 s: a bin of 1 Hz at every whole hertz */
            low += 0.5 * pow(amplitude(x, N, rate, k, NULL), 2.0) / CAPTURES;
        free(x);
    }
    sim_colour_free(colour);
    const double low_true = 4.0 * (20.0 + 300.0 * log(39.5 / 19.5));
    check_close(low / low_true, 1.0, 5.0 / sqrt(20.0 * CAPTURES));
    const double total_true = 4.0 * (24000.0 + 300.0 * log(24000.0));
    check_close(total / total_true, 1.0, 0.03); /* the lowest hertz, a tenth of the power, scatters most */
}

/* TPDF dither leaves an error of variance 3 q^2/12 whatever the signal (Lipshitz, Wannamaker and Vanderkooy, J. Audio
 * Eng. Soc. 40(5), 1992); without it a busy signal leaves q^2/12. Standard error sqrt(2/n) at the most. */
static void test_quantise(void **state)
{
    (void)state;
    enum { N = 200000 };
    const double q = ldexp(1.0, -15);
    struct sim_random random;
    sim_random_seed(&random, 3);
    for (int dithered = 0; dithered < 2; dithered++) {
        double *x = sim_samples(N), *y = sim_samples(N);
        for (int i = 0; i < N; i++)
            x[i] = y[i] = 0.4 * sin(0.1234567 * i) + 0.3 * sin(0.0712345 * i);
        sim_quantise(y, N, 16, dithered ? &random : NULL);
        for (int i = 0; i < N; i++)
            y[i] -= x[i];
        const double expected = (dithered ? 3.0 : 1.0) * q * q / 12.0;
        check_close(mean_square(y, N) / expected, 1.0, 5.0 * sqrt(2.0 / N));
        free(x);
        free(y);
    }
}

static void test_curves(void **state)
{
    (void)state;
    double x[] = {-2.0, -0.5, 0.0, 0.5, 2.0};
    const double c[] = {1.0, 2.0, 3.0};
    sim_polynomial(x, 5, c, 3);
    const double expected[] = {9.0, 0.75, 1.0, 2.75, 17.0};
    for (int i = 0; i < 5; i++)
        check_close(x[i], expected[i], 0.0);
    sim_clip(x, 5, 2.0);
    check_close(x[0], 2.0, 0.0);
    check_close(x[1], 0.75, 0.0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_gaussian),         cmocka_unit_test(test_layers_close), cmocka_unit_test(test_tone),
        cmocka_unit_test(test_moving_frequency), cmocka_unit_test(test_flicker),      cmocka_unit_test(test_quantise),
        cmocka_unit_test(test_curves),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
