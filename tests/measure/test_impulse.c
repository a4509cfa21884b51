/* Impulses, kurtosis, two-level steps, offset and coherence on signals whose content is known. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>

#include <cmocka.h>

#include "loadside/loadside.h"
#include "measure/noise/popcorn.h"
#include "simulate/measured.h"
#include "simulate/signals.h"

static const double RATE_HZ = 48e3;
enum { N = 480000 };

static void test_bursts(void **state)
{
    (void)state;
    struct sim_random random;
    sim_random_seed(&random, 21);
    double *x = sim_samples(N);
    sim_add_white(x, N, RATE_HZ, 1e-6, &random);
    struct lds_measurement m;
    sim_measure(x, N, RATE_HZ, NULL, &m);
    /* Normal noise of this band passes 5.5 sigma 2 x 11.5 kHz x exp(-5.5^2/2) = 0.006 times a second (Rice 1945): once
     * in these 10 s is common enough, twice is not. */
    assert_true(sim_value(&m, "noise.bursts") * 10.0 / 60.0 < 1.5);
    const struct lds_figure *kurtosis = sim_figure(&m, "noise.kurtosis");
    assert_true(fabs(kurtosis->value) < 4.0 * kurtosis->u_a);
    lds_measurement_free(&m);
    for (int i = 0; i < 20; i++) /* 20 clicks of 50 sigma in 10 s */
        x[20000 + 22000 * i] += 50.0 * 1e-6 * sqrt(RATE_HZ / 2.0);
    sim_measure(x, N, RATE_HZ, NULL, &m);
    assert_true(fabs(sim_value(&m, "noise.bursts") - 120.0) < 10.0);
    assert_true(sim_value(&m, "noise.kurtosis") > 1.0);
    lds_measurement_free(&m);
    free(x);
}

/* Steps of 2 mV between two levels, in noise and 50 Hz hum a hundred times as large. */
static void test_popcorn(void **state)
{
    (void)state;
    const double rate_hz = 6000.0;
    enum { SLOW = 120000 };
    struct sim_random random;
    sim_random_seed(&random, 22);
    double *x = sim_samples(SLOW);
    sim_add_white(x, SLOW, rate_hz, 1e-5, &random);
    sim_add_tone(x, SLOW, rate_hz, &(struct sim_tone){.frequency_hz = 50.0, .level = 0.2});
    struct lds_popcorn_result result;
    for (int with = 0; with < 2; with++) {
        struct lds_popcorn *p = lds_popcorn_new(rate_hz);
        assert_non_null(p);
        for (size_t i = 0; with && i < SLOW; i++)
            x[i] += (i / 4500) % 2 ? 2e-3 : 0.0;
        assert_true(lds_popcorn_push(p, x, SLOW));
        assert_true(lds_popcorn_finish(p, &result));
        assert_true(result.usable);
        assert_true(result.found == (with == 1));
        lds_popcorn_free(p);
    }
    assert_true(fabs(result.step - 2e-3) < 1e-4);
    free(x);
}

static void test_offset(void **state)
{
    (void)state;
    struct sim_random random;
    sim_random_seed(&random, 23);
    double *x = sim_samples(N);
    sim_add_white(x, N, RATE_HZ, 1e-7, &random);
    sim_add_tone(x, N, RATE_HZ, &(struct sim_tone){.frequency_hz = 997.0, .level = 0.5});
    sim_add_tone(x, N, RATE_HZ, &(struct sim_tone){.frequency_hz = 50.0, .level = 0.01});
    for (size_t i = 0; i < N; i++)
        x[i] += -0.0123;
    struct lds_measure_options options;
    sim_options_init(&options);
    options.bench.dc_coupled = true;
    struct lds_measurement m;
    sim_measure(x, N, RATE_HZ, &options, &m);
    const struct lds_figure *dc = sim_figure(&m, "level.dc");
    assert_non_null(dc);
    assert_true(fabs(dc->value + 0.0123) < 1e-6);
    assert_true(dc->low <= -0.0123 && dc->high >= -0.0123);
    lds_measurement_free(&m);
    free(x);
}

/* A quarter of each channel's noise power is common: coherence 1/16. */
static void test_coherence(void **state)
{
    (void)state;
    struct sim_random random;
    sim_random_seed(&random, 24);
    double *common = sim_samples(N), *x = sim_samples(2 * N), *own = sim_samples(N);
    sim_add_white(common, N, RATE_HZ, 1e-6, &random);
    for (int c = 0; c < 2; c++) {
        for (size_t i = 0; i < N; i++)
            own[i] = common[i];
        sim_add_white(own, N, RATE_HZ, 1e-6 * sqrt(3.0), &random);
        for (size_t i = 0; i < N; i++)
            x[2 * i + (size_t)c] = own[i];
    }
    struct lds_capture *capture;
    struct lds_error error;
    struct lds_measurement m;
    struct lds_measure_options options;
    lds_measure_options_init(&options);
    assert_int_equal(lds_capture_from_memory(x, N, 2, RATE_HZ, &capture, &error), LDS_OK);
    assert_int_equal(lds_measure(capture, &options, &m, &error), LDS_OK);
    const struct lds_figure *figure = lds_pair_figure(&m.pair[0], "noise.coherence.20-20k");
    assert_non_null(figure);
    assert_true(fabs(figure->value - 1.0 / 16.0) < 0.004);
    lds_measurement_free(&m);
    lds_capture_close(capture);
    free(common);
    free(x);
    free(own);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_bursts), cmocka_unit_test(test_popcorn),
                                       cmocka_unit_test(test_offset), cmocka_unit_test(test_coherence)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
