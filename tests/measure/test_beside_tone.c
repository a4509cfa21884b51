/* Lines and noise close to the tone: modulation down to 2.5 Hz at its true level, and nothing where there is none. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "loadside/series.h"
#include "simulate/check.h"
#include "simulate/measured.h"
#include "simulate/signals.h"

enum { SEED = 71 };

struct setting {
    double tone_hz, seconds, rate_hz;
    double apart_hz, sideband_db;
    bool of_phase;
};

static const double LEVEL = 0.5, NOISE_DB = -110.0; /* rms; 20 kHz of noise re the tone */

static double density(void)
{
    return LEVEL * pow(10.0, NOISE_DB / 20.0) / sqrt(2e4);
}

static void make(const struct setting *s, struct lds_measurement *measurement)
{
    const size_t n = (size_t)(s->rate_hz * s->seconds);
    double *x = sim_samples(n);
    struct sim_random random;
    sim_random_seed(&random, SEED);
    const struct sim_modulation modulation = {s->apart_hz, 2.0 * pow(10.0, s->sideband_db / 20.0), 0.7, s->of_phase};
    sim_add_modulated(x, n, s->rate_hz, s->tone_hz, LEVEL, 0.3, &modulation, 1);
    sim_add_white(x, n, s->rate_hz, density(), &random);
    sim_measure(x, n, s->rate_hz, NULL, measurement);
    free(x);
}

static void check_figure(const struct lds_measurement *measurement, const char *key, double truth, double within_db,
                         bool level)
{
    const struct lds_figure *figure = sim_figure(measurement, key);
    assert_non_null(figure);
    const double off_db = level ? 20.0 * log10(figure->value / truth) : figure->value - truth;
    if (!(fabs(off_db) <= within_db))
        fail_msg("seed %d: %s is %g dB off", SEED, key, off_db);
    const double half = 1.5; /* intervals are of 95 %: missing by more than half the width is an error */
    if (!(fabs(figure->value - truth) <= half * (figure->high - figure->low)))
        fail_msg("seed %d: %s %.10g, interval %.10g to %.10g, put in %.10g", SEED, key, figure->value, figure->low,
                 figure->high, truth);
}

static void check_spurs(const struct setting *s, const struct lds_channel *channel)
{
    int seen = 0;
    const struct lds_series *spurs = lds_channel_series(channel, "spurs");
    for (size_t i = 0; i < spurs->rows; i++) {
        const double apart = fabs(lds_series_value(spurs, i, LDS_SPUR_HZ) - s->tone_hz);
        const double level = lds_series_value(spurs, i, LDS_SPUR_LEVEL);
        const double sideband = LEVEL * pow(10.0, s->sideband_db / 20.0);
        assert_true(level < 1.1 * sideband);
        if (fabs(apart - s->apart_hz) > 0.05)
            continue;
        check_close(level / sideband, 1.0, 0.01);
        assert_non_null(strstr(spurs->text[i], "sideband of the tone"));
        seen++;
    }
    assert_int_equal(seen, 2);
}

static void sidebands(void **state)
{
    (void)state;
    static const struct setting settings[] = {
        {997.0, 10.0, 48000.0, 5.0, -80.0, false},   {997.0, 10.0, 48000.0, 3.0, -80.0, true},
        {6000.0, 10.0, 48000.0, 20.0, -80.0, false}, {5000.0, 2.0, 48000.0, 50.0, -60.0, false},
        {997.0, 2.0, 48000.0, 2.5, -60.0, true},     {15000.0, 1.0, 96000.0, 4.5, -100.0, false},
        {61.3, 4.0, 48000.0, 2.5, -80.0, true},      {9137.0, 5.0, 44100.0, 46.5, -90.0, false},
        {2275.0, 2.0, 48000.0, 17.0, -80.0, false},  {1000.0, 20.0, 48000.0, 2.5, -100.0, false},
        {34.5, 1.0, 48000.0, 6.8, -87.0, false},     {30.8, 1.0, 48000.0, 4.8, -80.0, false},
    };
    for (size_t i = 0; i < sizeof settings / sizeof settings[0]; i++) {
        const struct setting *s = &settings[i];
        struct lds_measurement measurement;
        make(s, &measurement);
        const double tone = LEVEL * LEVEL;
        const struct lds_figure *noise = sim_figure(&measurement, "noise.band.20-20k");
        assert_non_null(noise);
        const double band = density() * density() * (noise->band_hz[1] - 20.0);
        const double rest = band + 2.0 * tone * pow(10.0, s->sideband_db / 10.0);
        check_figure(&measurement, "thd_n", 10.0 * log10(rest / (rest + tone)), 0.1, false);
        check_figure(&measurement, "noise.band.20-20k", sqrt(band), 0.15, true);
        check_figure(&measurement, "noise.total.20-20k", sqrt(rest), 0.1, true);
        check_spurs(s, &measurement.channel[0]);
        lds_measurement_free(&measurement);
    }
}

/* Several rates at once, of amplitude and of phase, so close that their lobes overlap. */
static void several_rates(void **state)
{
    (void)state;
    static const struct {
        double tone_hz, seconds;
        struct sim_modulation modulation[3];
    } settings[] = {
        {23.3, 10.0, {{7.54, 6.3e-4, 0.3, false}, {8.36, 5e-5, 1.0, true}, {4.24, 1.4e-4, 2.0, true}}},
        {8781.54, 5.0, {{60.0, 1.6e-3, 0.3, false}, {9.68, 3.6e-4, 1.0, true}, {12.77, 1.8e-4, 2.0, false}}},
        {2381.52, 2.0, {{100.45, 1.4e-3, 0.3, true}, {130.19, 3e-5, 1.0, true}, {2.88, 2.2e-5, 2.0, false}}},
    };
    enum { RATE = 48000 };
    for (size_t i = 0; i < sizeof settings / sizeof settings[0]; i++) {
        const size_t n = (size_t)(RATE * settings[i].seconds);
        double *x = sim_samples(n), sidebands = 0.0;
        struct sim_random random;
        sim_random_seed(&random, SEED);
        sim_add_modulated(x, n, RATE, settings[i].tone_hz, LEVEL, 0.3, settings[i].modulation, 3);
        sim_add_white(x, n, RATE, density(), &random);
        for (int m = 0; m < 3; m++) {
            const struct sim_modulation *modulation = &settings[i].modulation[m];
            const double power = 0.25 * pow(LEVEL * modulation->depth, 2.0);
            sidebands += settings[i].tone_hz - modulation->frequency_hz > 20.0 ? 2.0 * power : power;
        }
        struct lds_measurement measurement;
        sim_measure(x, n, RATE, NULL, &measurement);
        free(x);
        const double band = density() * density() * 19980.0, rest = band + sidebands;
        check_figure(&measurement, "thd_n", 10.0 * log10(rest / (rest + LEVEL * LEVEL)), 0.1, false);
        check_figure(&measurement, "noise.band.20-20k", sqrt(band), 0.15, true);
        lds_measurement_free(&measurement);
    }
}

/* What is within 2 Hz, or 4/T, is the fundamental. */
static void slow_modulation(void **state)
{
    (void)state;
    static const struct setting settings[] = {
        {997.0, 20.0, 48000.0, 1.0, -60.0, false},
        {997.0, 10.0, 48000.0, 1.8, -80.0, true},
        {5000.0, 1.0, 48000.0, 2.5, -60.0, false},
        {300.0, 2.0, 48000.0, 0.8, -80.0, true},
    };
    for (size_t i = 0; i < sizeof settings / sizeof settings[0]; i++) {
        struct lds_measurement measurement;
        make(&settings[i], &measurement);
        assert_int_equal(lds_channel_series(&measurement.channel[0], "spurs")->rows, 0);
        check_figure(&measurement, "thd_n", NOISE_DB, 0.2, false);
        check_figure(&measurement, "noise.band.20-20k", density() * sqrt(19980.0), 0.2, true);
        lds_measurement_free(&measurement);
    }
}

/* Noise beside the tone, as from a rubbing voice coil or a poor clock, counts as noise: wide as it is, the levels' lobe
 * hides it. */
static void noisy_sidebands(void **state)
{
    (void)state;
    enum { RATE = 48000, N = 10 * RATE };
    double *x = sim_samples(N);
    struct sim_random random;
    sim_random_seed(&random, SEED);
    /* Amplitude modulated by noise through a low-pass of first order at 4 Hz: one-sided density D/(1 + (f/4)^2), total
     * D 4 pi/2; its two sidebands have a half of that power each, re the tone's. */
    const double corner_hz = 4.0, share = exp(-2.0 * M_PI * corner_hz / RATE), depth = 1e-4;
    double by = 0.0;
    for (int i = 0; i < N; i++) {
        by = share * by + sqrt(1.0 - share * share) * depth * sim_random_gaussian(&random);
        x[i] = M_SQRT2 * LEVEL * (1.0 + by) * cos(2.0 * M_PI * 6000.0 / RATE * i);
    }
    sim_add_white(x, N, RATE, density(), &random);
    struct lds_measurement measurement;
    sim_measure(x, N, RATE, NULL, &measurement);
    free(x);
    /* Everything but what is within 2 Hz: 1 - (2/pi) atan(2/4) of it. */
    const double outside = depth * depth * (1.0 - 2.0 / M_PI * atan(2.0 / corner_hz));
    check_close(sim_value(&measurement, "thd_n"), 10.0 * log10(outside), 1.0);
    assert_int_equal(lds_channel_series(&measurement.channel[0], "spurs")->rows, 0);
    lds_measurement_free(&measurement);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(sidebands),
        cmocka_unit_test(several_rates),
        cmocka_unit_test(slow_modulation),
        cmocka_unit_test(noisy_sidebands),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
