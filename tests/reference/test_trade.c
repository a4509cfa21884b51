/* Facts of the trade, from end to end. Common practice, no source, except where one is named. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>

#include <cmocka.h>

#include "simulate/check.h"
#include "simulate/measured.h"
#include "simulate/signals.h"

enum { RATE = 48000, FRAMES = 2 * RATE };

/* A tone of `volts` rms with one harmonic, into load_ohm, through a bench of full_scale volts peak. */
static void measure_tone(double volts, double full_scale_v, double load_ohm, int order, double ratio,
                         struct lds_measurement *measurement)
{
    double *x = sim_samples(FRAMES);
    struct sim_random random;
    sim_random_seed(&random, 51);
    struct sim_tone tone = {.frequency_hz = 1000.0, .level = volts / full_scale_v, .orders = order};
    tone.relative[order] = ratio;
    sim_add_tone(x, FRAMES, RATE, &tone);
    sim_quantise(x, FRAMES, 24, &random);
    struct lds_measure_options options;
    sim_options_init(&options);
    options.bench.full_scale_v = full_scale_v;
    options.bench.load_ohm = load_ohm;
    sim_measure(x, FRAMES, RATE, &options, measurement);
    free(x);
}

/* 10 W into 8 ohm is 8.944 V, 19.03 dBV; 250 mW 1.41421 V; an eighth of 100 W into 8 ohm 10.000 V; 100 W into 4 ohm
 * 20 V (P = V^2/R). Power is printed to five digits; 24-bit dither moves a level by 1e-9. */
static void test_power(void **state)
{
    (void)state;
    static const double rows[][3] = {
        {8.944272, 8.0, 10.0}, {1.414214, 8.0, 0.25}, {10.0, 8.0, 12.5}, {20.0, 4.0, 100.0}};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct lds_measurement measurement;
        measure_tone(rows[i][0], 40.0, rows[i][1], 2, 1e-4, &measurement);
        check_close(sim_value(&measurement, "tone.level"), rows[i][0], 1e-6 * rows[i][0]);
        check_close(sim_value(&measurement, "tone.power"), rows[i][2], 1e-5 * rows[i][2]);
        lds_measurement_free(&measurement);
    }
    struct lds_measurement measurement;
    measure_tone(sqrt(80.0), 40.0, 8.0, 2, 1e-4, &measurement);
    check_close(20.0 * log10(sim_value(&measurement, "tone.level")), 19.03, 0.005);
    lds_measurement_free(&measurement);
}

/* 0.003 % is -90.5 dB, 0.1 % -60 dB, 1 % -40 dB, 10 % -20 dB. */
static void test_percent(void **state)
{
    (void)state;
    static const double rows[][2] = {{0.003, -90.5}, {0.1, -60.0}, {1.0, -40.0}, {10.0, -20.0}};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct lds_measurement measurement;
        measure_tone(5.0, 20.0, 8.0, 3, rows[i][0] / 100.0, &measurement);
        check_close(sim_value(&measurement, "thd"), rows[i][1], 0.05); /* as many digits as the saying has */
        lds_measurement_free(&measurement);
    }
}

/* Without a load the power is reported as absent, never as 0. */
static void test_power_needs_a_load(void **state)
{
    (void)state;
    struct lds_measurement measurement;
    measure_tone(5.0, 20.0, NAN, 2, 1e-4, &measurement);
    assert_null(sim_figure(&measurement, "tone.power"));
    assert_non_null(lds_channel_absent(&measurement.channel[0], "tone.power"));
    lds_measurement_free(&measurement);
}

/* A full-scale sine reads 0 dBFS (AES17: peak 1.0, rms 0.7071), its crest is 3.01 dB and its headroom 0 dB. */
static void test_full_scale(void **state)
{
    (void)state;
    double *x = sim_samples(FRAMES);
    const struct sim_tone tone = {.frequency_hz = 997.0, .level = M_SQRT1_2 * 0.999999};
    sim_add_tone(x, FRAMES, RATE, &tone);
    struct lds_measure_options options;
    sim_options_init(&options);
    options.bench.full_scale_v = NAN;
    struct lds_measurement measurement;
    sim_measure(x, FRAMES, RATE, &options, &measurement);
    check_close(sim_value(&measurement, "tone.level"), 0.0, 1e-4);
    check_close(sim_value(&measurement, "level.rms"), 0.0, 1e-4);
    check_close(sim_value(&measurement, "level.crest"), 3.0103, 1e-3); /* 48 samples a period nearly hit the peak */
    check_close(sim_value(&measurement, "level.headroom"), 0.0, 1e-3);
    lds_measurement_free(&measurement);
    free(x);
}

/* Half the voltage is 6.02 dB less and a quarter of the power. */
static void test_half_the_voltage(void **state)
{
    (void)state;
    struct lds_measurement whole, half;
    measure_tone(8.0, 20.0, 8.0, 2, 1e-4, &whole);
    measure_tone(4.0, 20.0, 8.0, 2, 1e-4, &half);
    check_close(20.0 * log10(sim_value(&half, "tone.level") / sim_value(&whole, "tone.level")), -6.0206, 1e-4);
    check_close(sim_value(&half, "tone.power") / sim_value(&whole, "tone.power"), 0.25, 1e-6);
    lds_measurement_free(&whole);
    lds_measurement_free(&half);
}

/* A divider of 10 before the card: ten times the volts; and 20 dB down on noise is a tenth of the volts. */
static void test_attenuation(void **state)
{
    (void)state;
    double *x = sim_samples(FRAMES);
    const struct sim_tone tone = {.frequency_hz = 997.0, .level = 0.5};
    sim_add_tone(x, FRAMES, RATE, &tone);
    struct lds_measure_options options;
    sim_options_init(&options);
    options.bench.full_scale_v = 2.0;
    options.bench.attenuation = 10.0;
    struct lds_measurement measurement;
    sim_measure(x, FRAMES, RATE, &options, &measurement);
    check_close(sim_value(&measurement, "tone.level"), 10.0, 1e-5);
    lds_measurement_free(&measurement);
    free(x);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_power),
        cmocka_unit_test(test_percent),
        cmocka_unit_test(test_power_needs_a_load),
        cmocka_unit_test(test_full_scale),
        cmocka_unit_test(test_half_the_voltage),
        cmocka_unit_test(test_attenuation),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
