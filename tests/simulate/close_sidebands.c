/* Modulation of the tone from 2.5 Hz (4.2/T in short captures) to 500 Hz, of its amplitude or phase, sidebands from
 * -100 to -60 dB: THD+N and noise are right, their intervals hold the truth, the sidebands are found at their level,
 * and nothing is found where there is no modulation. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "loadside/series.h"
#include "simulate/measured.h"
#include "simulate/signals.h"

enum { RATE = 48000, LENGTHS = 4, FIGURES = 3 };
static const char *const keys[FIGURES] = {"thd_n", "noise.band.20-20k", "noise.total.20-20k"};
static const double seconds[LENGTHS] = {1.0, 2.0, 4.0, 10.0};

struct tally {
    struct sim_cover cover[FIGURES];
    double worst_db[FIGURES]; /* beyond three standard uncertainties */
    int sought, lost, strong; /* captures whose sidebands must be found; not found; spurs stronger than the true
                               * sidebands */
    int clean, invented;      /* captures without modulation; those with a spur */
};

static void judge(struct tally *tally, int i, const struct lds_measurement *measurement, double truth)
{
    const struct lds_figure *figure = sim_figure(measurement, keys[i]);
    sim_cover_add(&tally->cover[i], figure, truth);
    if (figure == NULL)
        return;
    const double off = i == 0 ? figure->value - truth : 20.0 * log10(figure->value / truth);
    const double u = i == 0 ? figure->u_a : 20.0 / M_LN10 * figure->u_a / figure->value;
    tally->worst_db[i] = fmax(tally->worst_db[i], fabs(off) - 3.0 * fmin(u, 0.1));
}

static void look_for(struct tally *tally, const struct lds_channel *channel, double tone_hz, double apart_hz,
                     double sideband, double seconds_long)
{
    int found = 0;
    const struct lds_series *spurs = lds_channel_series(channel, "spurs");
    for (size_t i = 0; i < spurs->rows; i++) {
        const double level = lds_series_value(spurs, i, LDS_SPUR_LEVEL);
        tally->strong += level > 1.2 * sideband;
        found += fabs(fabs(lds_series_value(spurs, i, LDS_SPUR_HZ) - tone_hz) - apart_hz) < 0.3 / seconds_long &&
                 fabs(level / sideband - 1.0) < 0.05;
    }
    /* Below 2.1 kHz a sideband may look like a mains order. */
    tally->sought += tone_hz > 2100.0 + apart_hz;
    tally->lost += tone_hz > 2100.0 + apart_hz && found < 2;
}

static void one_capture(struct tally *tally, int c, struct sim_random *random)
{
    const double length = seconds[c % LENGTHS], level = 0.5;
    const size_t n = (size_t)(RATE * length);
    const double apart_hz = sim_random_log_between(random, fmax(2.5, 4.2 / length), 500.0);
    const double tone_hz = sim_random_log_between(random, 40.0 + 1.5 * apart_hz, 18000.0);
    const double sideband = level * pow(10.0, sim_random_between(random, -100.0, -60.0) / 20.0);
    const double density = level * pow(10.0, sim_random_between(random, -115.0, -95.0) / 20.0) / sqrt(2e4);
    const bool modulated = c % 5 != 4;
    const struct sim_modulation modulation = {apart_hz, modulated ? 2.0 * sideband / level : 0.0,
                                              sim_random_between(random, -M_PI, M_PI), c / LENGTHS % 2 == 1};
    double *x = sim_samples(n);
    sim_add_modulated(x, n, RATE, tone_hz, level, sim_random_between(random, -M_PI, M_PI), &modulation, 1);
    sim_add_white(x, n, RATE, density, random);
    struct lds_measurement measurement;
    struct lds_measure_options options;
    sim_options_init(&options);
    options.mains_hz = 50.0;
    sim_measure(x, n, RATE, &options, &measurement);
    free(x);
    if (modulated) {
        const double band = density * density * 19980.0, rest = band + 2.0 * sideband * sideband;
        judge(tally, 0, &measurement, 10.0 * log10(rest / (rest + level * level)));
        judge(tally, 1, &measurement, sqrt(band));
        judge(tally, 2, &measurement, sqrt(rest));
        look_for(tally, &measurement.channel[0], tone_hz, apart_hz, sideband, length);
    } else {
        tally->clean++;
        tally->invented += lds_channel_series(&measurement.channel[0], "spurs")->rows > 0;
    }
    lds_measurement_free(&measurement);
}

int main(int argc, char **argv)
{
    struct sim_run run;
    struct sim_random random;
    sim_run_init(&run, argc, argv, "sidebands close to the tone");
    sim_random_seed(&random, run.seed);
    struct tally tally = {0};
    const int captures = run.full ? 4000 : 160;
    for (int c = 0; c < captures; c++)
        one_capture(&tally, c, &random);
    for (int i = 0; i < FIGURES; i++) {
        const struct sim_cover *cover = &tally.cover[i];
        char what[96];
        const double slack = 300.0 * sqrt(0.95 * 0.05 / cover->seen); /* three standard errors of a share of 0.95 */
        snprintf(what, sizeof what, "%s: intervals that hold the truth (mean %+.2f, sd %.2f of u)", keys[i],
                 cover->error.mean, sim_moments_sd(&cover->error));
        sim_row(&run, what, cover->missing > 0 ? NAN : 100.0 * cover->held / cover->seen, 95.0 - slack,
                fmin(95.0 + slack, 100.0), "%");
        snprintf(what, sizeof what, "%s: largest error beyond three standard uncertainties", keys[i]);
        sim_row(&run, what, tally.worst_db[i], -INFINITY, 0.1, "dB");
    }
    char what[96];
    snprintf(what, sizeof what, "of %d captures, with a sideband lost or at another level", tally.sought);
    sim_row(&run, what, tally.lost, 0.0, 0.01 * captures, "");
    sim_row(&run, "spurs stronger than what was put in", tally.strong, 0.0, 0.0, "");
    snprintf(what, sizeof what, "of %d captures without modulation, with a spur", tally.clean);
    sim_row(&run, what, tally.invented, 0.0, run.full ? 4.0 : 1.0, "");
    return sim_run_end(&run);
}
