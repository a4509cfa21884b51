/* The FFT stage end to end: white noise reads its density on every level with the expected scatter, a sine reads its
 * power, and nothing of it appears on other levels. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>

#include <cmocka.h>

#include "simulate/random.h"
#include "spectrum/cascade.h"
#include "spectrum/sliding.h"
#include "spectrum/welch.h"
#include "spectrum/window.h"

static void run(double rate_hz, size_t n, const double *x, struct lds_density *density)
{
    struct lds_plan plan;
    assert_true(lds_plan_make(&plan, rate_hz, (int64_t)n, 1000.0, 20e3));
    struct lds_listener nobody = {0};
    struct lds_cascade *cascade = lds_cascade_new(&plan, &nobody);
    assert_non_null(cascade);
    for (size_t at = 0; at < n; at += 10007)
        lds_cascade_push(cascade, x + at, n - at < 10007 ? n - at : 10007);
    lds_cascade_finish(cascade, density);
    lds_cascade_free(cascade);
    lds_plan_free(&plan);
}

static double band_mean(const struct lds_level *level)
{
    double sum = 0.0;
    int first = level->first < 8 ? 8 : level->first;
    for (int i = first; i < level->last; i++)
        sum += level->power[i];
    return sum / (level->last - first);
}

static void test_white_noise(void **state)
{
    (void)state;
    const double rates[] = {8e3, 44.1e3, 96e3, 192e3, 1.25e6};
    for (size_t r = 0; r < sizeof rates / sizeof rates[0]; r++) {
        size_t n = (size_t)(3.0 * rates[r]);
        double *x = malloc(n * sizeof *x);
        assert_non_null(x);
        struct sim_random random;
        sim_random_seed(&random, 100 + r);
        for (size_t i = 0; i < n; i++)
            x[i] = sim_random_gaussian(&random);
        struct lds_density density;
        run(rates[r], n, x, &density);
        for (int i = 0; i < density.levels; i++) {
            const struct lds_level *level = &density.level[i];
            double bins = level->last - (level->first < 8 ? 8 : level->first);
            double sigma = sqrt(2.0 / (level->band_dof * bins * level->bin_hz));
            double error = band_mean(level) * rates[r] / 2.0 - 1.0;
            if (fabs(error) > 4.0 * sigma)
                fail_msg("rate %g level %d: %g off, 4 sigma is %g", rates[r], i, error, 4.0 * sigma);
        }
        lds_density_free(&density);
        free(x);
    }
}

/* A sine's lobe has its mean square; outside the lobe nothing of it is left, on any level. */
static void test_sine(void **state)
{
    (void)state;
    const double rate_hz = 192e3, f = 5000.37;
    size_t n = (size_t)(3.0 * rate_hz);
    double *x = malloc(n * sizeof *x);
    assert_non_null(x);
    for (size_t i = 0; i < n; i++)
        x[i] = sin(2.0 * M_PI * f / rate_hz * (double)i);
    struct lds_density density;
    run(rate_hz, n, x, &density);
    double power = 0.0, elsewhere = 0.0;
    for (int i = 0; i < density.levels; i++) {
        const struct lds_level *level = &density.level[i];
        for (int k = level->first; k < level->last; k++) {
            double p = level->power[k] * level->bin_hz;
            if (fabs(k * level->bin_hz - f) < (LDS_LOBE_BINS + 1) * level->bin_hz)
                power += p;
            else
                elsewhere = fmax(elsewhere, p);
        }
    }
    lds_density_free(&density);
    free(x);
    assert_true(fabs(power - 0.5) < 1e-6);
    assert_true(10.0 * log10(elsewhere / 0.5) < -165.0);
}

/* nu = 36 K^2/(19 K - 1) for Hann at 50 % (Percival and Walden 1993): the general sum must give the same. */
static void test_welch_hann(void **state)
{
    (void)state;
    enum { N = 4096 };
    static double w[N];
    lds_window_fill(&lds_window_hann, N, w);
    const int frames[] = {8, 16, 32, 100};
    for (size_t i = 0; i < sizeof frames / sizeof frames[0]; i++) {
        struct lds_welch welch;
        double k = frames[i];
        lds_welch_statistics(w, N, N / 2, 48e3, frames[i], &welch);
        assert_true(fabs(welch.bin_dof - 36.0 * k * k / (19.0 * k - 1.0)) < 1e-6 * k);
    }
}

/* Degrees of freedom of a band by simulation: the scatter of the band's power over seeded runs. */
static void test_band_dof(void **state)
{
    (void)state;
    enum { RUNS = 400, RATE = 8000 };
    size_t n = 4 * RATE;
    double *x = malloc(n * sizeof *x), sum = 0.0, square = 0.0, promised = 0.0;
    assert_non_null(x);
    struct sim_random random;
    sim_random_seed(&random, 7);
    for (int r = 0; r < RUNS; r++) {
        for (size_t i = 0; i < n; i++)
            x[i] = sim_random_gaussian(&random);
        struct lds_density density;
        run(RATE, n, x, &density);
        const struct lds_level *level = &density.level[density.levels - 1];
        double power = 0.0;
        int first = level->last / 4, last = level->last / 2;
        for (int k = first; k < last; k++)
            power += level->power[k];
        promised = level->band_dof * (last - first) * level->bin_hz;
        sum += power;
        square += power * power;
        lds_density_free(&density);
    }
    free(x);
    double mean = sum / RUNS, variance = square / RUNS - mean * mean, seen = 2.0 * mean * mean / variance;
    /* the variance of RUNS values is known to sqrt(2/RUNS) = 7 %: three of those */
    if (fabs(seen / promised - 1.0) > 0.22)
        fail_msg("seed 7: %g degrees of freedom seen, %g promised", seen, promised);
}

static void test_sliding(void **state)
{
    (void)state;
    struct lds_sliding s;
    double buffer[24];
    lds_sliding_init(&s, buffer, 12, 3);
    double x[1000];
    for (int i = 0; i < 1000; i++)
        x[i] = i;
    size_t windows = 0, at = 0, cut = 1;
    while (at < 1000) {
        size_t n = cut < 1000 - at ? cut : 1000 - at, taken;
        const double *w = lds_sliding_push(&s, x + at, n, &taken);
        if (w) {
            for (size_t i = 0; i < 12; i++)
                assert_true(w[i] == (double)(3 * windows + i));
            windows++;
        }
        at += taken;
        cut = cut * 5 % 11 + 1;
    }
    assert_int_equal(windows, (1000 - 12) / 3 + 1);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_white_noise), cmocka_unit_test(test_sine),
                                       cmocka_unit_test(test_welch_hann), cmocka_unit_test(test_band_dof),
                                       cmocka_unit_test(test_sliding)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
