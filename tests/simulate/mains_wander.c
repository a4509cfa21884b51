/* Mains lines to order 40 while the mains wanders by +-20 mHz: each within 0.05 dB plus noise. (With a fixed frequency
 * 6 dB are lost at order 40.) The noise is taken as four standard deviations, 8.686 sqrt(S/2T)/V dB each: with 40
 * orders, chance alone exceeds three in one run of ten. Orders are followed up to 2 kHz: 33 of them at 60 Hz. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "loadside/series.h"
#include "simulate/measured.h"
#include "simulate/signals.h"

enum { RATE = 48000, ORDERS = 40 };

static double worst_order(const struct lds_channel *channel, const struct sim_mains *mains, double density,
                          double seconds, int *order)
{
    double error[ORDERS + 1];
    for (int k = 1; k <= ORDERS; k++)
        error[k] = NAN;
    const struct lds_series *lines = lds_channel_series(channel, "mains");
    for (int k = 1; k <= ORDERS; k++) {
        const size_t row = lds_series_row_of(lines, LDS_LINE_ORDER, k);
        if (row < lines->rows)
            error[k] = 20.0 * log10(lds_series_value(lines, row, LDS_LINE_LEVEL) / mains->level[k]);
    }
    double worst = -INFINITY;
    for (int k = 1; k <= ORDERS && k * mains->frequency_hz < 2005.0; k++) {
        const double beyond = fabs(error[k]) - 4.0 * 8.686 * density * sqrt(0.5 / seconds) / mains->level[k];
        if (!(beyond <= worst)) { /* a missing order is the worst */
            worst = beyond;
            *order = k;
        }
        if (isnan(worst))
            break;
    }
    return worst;
}

struct setting {
    double nominal_hz, frequency_hz, wander_periods, seconds, tone_hz;
};

static void wander(struct sim_run *run, struct sim_random *random, const struct setting *setting, double density)
{
    const size_t n = (size_t)(RATE * setting->seconds);
    double *x = sim_samples(n);
    struct sim_mains mains = {.frequency_hz = setting->frequency_hz,
                              .wander_hz = 0.02,
                              .wander_periods = setting->wander_periods,
                              .orders = ORDERS};
    for (int k = 1; k <= ORDERS; k++) {
        mains.level[k] = 1e-3 * pow(10.0, sim_random_between(random, -20.0, 0.0) / 20.0) / sqrt(k);
        mains.phase_rad[k] = sim_random_between(random, -M_PI, M_PI);
    }
    sim_add_mains(x, n, RATE, &mains);
    if (setting->tone_hz > 0.0) {
        struct sim_tone tone = {.frequency_hz = setting->tone_hz, .level = 0.5, .orders = 3};
        tone.relative[2] = tone.relative[3] = 1e-4;
        sim_add_tone(x, n, RATE, &tone);
    }
    sim_add_white(x, n, RATE, density, random);
    struct lds_measure_options options;
    sim_options_init(&options);
    options.mains_hz = setting->nominal_hz;
    struct lds_measurement measurement;
    sim_measure(x, n, RATE, &options, &measurement);
    char what[96];
    int order = 0;
    const double worst = worst_order(&measurement.channel[0], &mains, density, setting->seconds, &order);
    const int length = snprintf(what, sizeof what, "%g Hz, %g s, %g periods", setting->frequency_hz, setting->seconds,
                                setting->wander_periods);
    if (setting->tone_hz > 0.0)
        snprintf(what + length, sizeof what - (size_t)length, ", tone");
    const int used = (int)strlen(what);
    snprintf(what + used, sizeof what - (size_t)used, ": worst (order %d)", order);
    sim_row(run, what, worst, -INFINITY, 0.05, "dB");
    lds_measurement_free(&measurement);
    free(x);
}

int main(int argc, char **argv)
{
    static const struct setting settings[] = {
        {NAN, 50.0, 1.0, 30.0, 0.0},      {50.0, 49.98, 2.0, 20.0, 1234.5}, {NAN, 50.013, 1.0, 60.0, 0.0},
        {60.0, 60.02, 1.0, 60.0, 933.3},  {NAN, 59.97, 6.0, 120.0, 0.0},    {50.0, 50.01, 0.5, 10.0, 0.0},
        {NAN, 49.96, 12.0, 180.0, 937.1},
    };
    struct sim_run run;
    struct sim_random random;
    sim_run_init(&run, argc, argv, "mains lines to order 40, mains wandering by 20 mHz");
    sim_random_seed(&random, run.seed);
    const size_t count = run.full ? sizeof settings / sizeof settings[0] : 2;
    for (size_t i = 0; i < count; i++) {
        wander(&run, &random, &settings[i], 1e-8);
        if (run.full)
            wander(&run, &random, &settings[i], 2e-6);
    }
    return sim_run_end(&run);
}
