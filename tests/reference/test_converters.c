/* Ideal converters: quantisation noise, SINAD and ENOB tables, dither.
 *
 * SINAD of N bits over half the rate is 20 lg(2^N sqrt 1.5) (6.02 N + 1.76 dB; q/sqrt 12 and the formula in the
 * converter tutorials); TPDF dither adds 10 lg 3 = 4.7712 dB (3 q^2/12). The figures cover 20 Hz to 20 kHz, so that
 * 10 lg((fs/2)/19980) is taken off. */
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

enum { RATE = 48000, SECONDS = 4, FRAMES = RATE * SECONDS };

static const double band_db = 0.796459; /* 10 lg(24000/19980) */

static double quantised_sinad_db(int bits, bool dithered)
{
    double *x = sim_samples(FRAMES);
    struct sim_random random;
    sim_random_seed(&random, 21);
    /* Two steps below full scale, where dither cannot clip. */
    const struct sim_tone tone = {.frequency_hz = 997.123, .level = M_SQRT1_2 * (1.0 - ldexp(2.0, 1 - bits))};
    sim_add_tone(x, FRAMES, RATE, &tone);
    sim_quantise(x, FRAMES, bits, dithered ? &random : NULL);
    struct lds_measurement measurement;
    sim_measure(x, FRAMES, RATE, NULL, &measurement);
    const double sinad = sim_value(&measurement, "sinad");
    check_close(sim_value(&measurement, "thd_n"), -sinad, 1e-9);
    lds_measurement_free(&measurement);
    free(x);
    return sinad - 20.0 * log10(1.0 - ldexp(2.0, 1 - bits)); /* re full scale */
}

struct bits {
    int bits;
    double sinad_db;
};

static const struct bits table[] = {{12, 74.0081},  {14, 86.0493},  {16, 98.0905},
                                    {18, 110.1317}, {20, 122.1729}, {24, 146.2553}};

/* 2BT = 160000 degrees of freedom leave 0.015 dB; four of them. The side lobes of the analysis window, -180 dB a bin,
 * sum to -161 dB about a tone, which adds 0.06 dB at 24 bits. */
static void test_dithered(void **state)
{
    (void)state;
    for (size_t i = 0; i < sizeof table / sizeof table[0]; i++) {
        const double sinad = quantised_sinad_db(table[i].bits, true);
        print_message("%d bits with dither: %.3f dB\n", table[i].bits, sinad);
        check_close(sinad, table[i].sinad_db - 4.7712 + band_db, table[i].bits == 24 ? 0.12 : 0.06);
    }
}

/* Without dither the error of a sine is a set of lines, white only on the whole: 0.3 dB at 14 bits and more. ENOB =
 * (SINAD - 10 lg 1.5)/(20 lg 2) (IEEE 1241-2000, eqs 94 and 102). */
static void test_undithered(void **state)
{
    (void)state;
    for (size_t i = 1; i < 4; i++) {
        const double sinad = quantised_sinad_db(table[i].bits, false) - band_db;
        const double enob = (sinad - 10.0 * log10(1.5)) / (20.0 * log10(2.0));
        print_message("%d bits without dither: %.3f dB, ENOB %.3f\n", table[i].bits, sinad, enob);
        check_close(sinad, table[i].sinad_db, 0.3);
        check_close(enob, table[i].bits, 0.05);
    }
}

/* Density of 16-bit quantisation noise re a full-scale sine at 48 kHz: -141.8926 dB in 1 Hz, and with TPDF
 * dither 4.7712 more; 24 bits -190.0574. An uncalibrated capture's density figure is in dBFS in 1 Hz, 0 dBFS being a
 * full-scale sine (AES17). The third octave about 10 kHz, 2316 Hz over 4 s, leaves 0.064 dB; four of them. */
static void test_density(void **state)
{
    (void)state;
    static const struct bits density[] = {{16, -141.8926}, {24, -190.0574}};
    for (size_t i = 0; i < 2; i++) {
        double *x = sim_samples(FRAMES);
        struct sim_random random;
        sim_random_seed(&random, 22);
        sim_quantise(x, FRAMES, density[i].bits, &random);
        struct lds_measure_options options;
        sim_options_init(&options);
        options.bench.full_scale_v = NAN;
        struct lds_measurement measurement;
        sim_measure(x, FRAMES, RATE, &options, &measurement);
        check_close(sim_value(&measurement, "noise.density.10k"), density[i].sinad_db + 4.7712, 0.26);
        check_close(sim_value(&measurement, "capture.bits"), density[i].bits, 0.0);
        lds_measurement_free(&measurement);
        free(x);
    }
}

/* SINAD = -10 lg(10^(-SNR/10) + 10^(THD/10)): the published pairs. The figure's denominator is the whole signal
 * (AES17), which adds 10 lg(1 + 10^(-SINAD/10)): 1e-6 dB at 67 dB. */
static void test_sinad_of_snr_and_thd(void **state)
{
    (void)state;
    static const double rows[][4] = {
        /* SNR, THD, SINAD, ENOB */
        {70.0, -70.0, 66.989700, 10.834267},
        {74.0, -80.0, 73.026772, 11.837003},
        {110.0, -120.0, 109.586073, 17.909372},
        {100.0, -110.0, 99.586073, 16.248407},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        double *x = sim_samples(FRAMES);
        struct sim_random random;
        sim_random_seed(&random, 23 + i);
        struct sim_tone tone = {.frequency_hz = 1234.5, .level = 0.6, .orders = 3};
        tone.relative[2] = tone.relative[3] = pow(10.0, rows[i][1] / 20.0) * M_SQRT1_2;
        sim_add_tone(x, FRAMES, RATE, &tone);
        sim_add_white(x, FRAMES, RATE, 0.6 * pow(10.0, -rows[i][0] / 20.0) / sqrt(19980.0), &random);
        struct lds_measurement measurement;
        sim_measure(x, FRAMES, RATE, NULL, &measurement);
        const double sinad = sim_value(&measurement, "sinad");
        /* 160000 degrees of freedom: 0.015 dB rms, four of them; of the harmonics, 8.686 sqrt(S/2T)/V_h. */
        const double scatter = 8.686 * pow(10.0, -(rows[i][0] + rows[i][1]) / 20.0) / sqrt(19980.0 * 2.0 * SECONDS);
        check_close(sim_value(&measurement, "snr"), rows[i][0], 0.06);
        check_close(sim_value(&measurement, "thd"), rows[i][1], 4.0 * scatter);
        check_close(sinad, rows[i][2], 0.06);
        check_close((sinad - 10.0 * log10(1.5)) / (20.0 * log10(2.0)), rows[i][3], 0.01);
        lds_measurement_free(&measurement);
        free(x);
    }
}

/* A worked example of a numerical library's manual: amplitude 1, second harmonic of amplitude 0.025, noise of variance
 * 0.05^2: SINAD 22.498775 dB, THD -32.041200 dB, SNR 23.010300 dB as ratios to the fundamental. Re the whole signal
 * (AES17) SINAD is 10 lg(1 + 10^2.2498775) = 22.5231 dB. */
static void test_worked_example(void **state)
{
    (void)state;
    double *x = sim_samples(FRAMES);
    struct sim_random random;
    sim_random_seed(&random, 31);
    struct sim_tone tone = {.frequency_hz = 1001.7, .level = M_SQRT1_2, .orders = 2};
    tone.relative[2] = 0.025;
    sim_add_tone(x, FRAMES, RATE, &tone);
    sim_add_white(x, FRAMES, RATE, 0.05 / sqrt(19980.0), &random);
    struct lds_measure_options options;
    sim_options_init(&options);
    options.bench.full_scale_v = 2.0; /* peaks of 1.3: twice the full scale, half the samples */
    for (size_t i = 0; i < FRAMES; i++)
        x[i] *= 0.5;
    struct lds_measurement measurement;
    sim_measure(x, FRAMES, RATE, &options, &measurement);
    check_close(sim_value(&measurement, "sinad"), 10.0 * log10(1.0 + pow(10.0, 2.2498775)), 0.06);
    check_close(sim_value(&measurement, "snr"), 23.010300, 0.06);
    /* 8.686 sqrt(S/2T)/V_2 = 0.06 dB. */
    check_close(sim_value(&measurement, "thd"), -32.041200, 4.0 * 8.686 * 0.05 / sqrt(19980.0 * 8.0) / 0.017678);
    lds_measurement_free(&measurement);
    free(x);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_dithered),       cmocka_unit_test(test_undithered),
        cmocka_unit_test(test_density),        cmocka_unit_test(test_sinad_of_snr_and_thd),
        cmocka_unit_test(test_worked_example),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
