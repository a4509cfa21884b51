/* Any tone frequency, not only convenient ones, and any level down to 60 dB below full scale give the same figures.
 * Frequencies are drawn log-uniformly from 20 Hz to 18 kHz, levels uniformly in dB. Each figure is judged by its own
 * interval: the share that holds the truth, and the largest error in standard uncertainties. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "simulate/measured.h"
#include "simulate/signals.h"

enum { RATE = 96000, FIGURES = 5 };
static const char *const keys[FIGURES] = {"tone.level", "tone.frequency", "thd", "thd_n", "noise.band.20-20k"};

struct sweep {
    struct sim_cover cover[FIGURES];
    double worst[FIGURES], at_hz[FIGURES], at_dbfs[FIGURES];
};

static void judge(struct sweep *sweep, int i, const struct lds_measurement *measurement, double truth,
                  const struct sim_tone *tone)
{
    const struct lds_figure *figure = sim_figure(measurement, keys[i]);
    const double dbfs = 20.0 * log10(tone->level * M_SQRT2);
    if (figure == NULL)
        printf("       %s absent at %.3f Hz, %.1f dBFS\n", keys[i], tone->frequency_hz, dbfs);
    sim_cover_add(&sweep->cover[i], figure, truth);
    if (figure == NULL)
        return;
    const double error = fabs(figure->value - truth) / figure->u_a;
    if (!(error <= sweep->worst[i])) {
        sweep->worst[i] = error;
        sweep->at_hz[i] = tone->frequency_hz;
        sweep->at_dbfs[i] = dbfs;
    }
}

static void one_capture(struct sweep *sweep, double seconds, struct sim_random *random)
{
    const size_t n = (size_t)(RATE * seconds);
    const double density = 2e-9; /* 20 kHz of it: 131 dB below full scale */
    double *x = sim_samples(n);
    struct sim_tone tone = {.orders = 5};
    tone.frequency_hz = sim_random_log_between(random, 20.5, 18000.0);
    tone.level = M_SQRT1_2 * pow(10.0, sim_random_between(random, -60.0, -0.1) / 20.0);
    tone.phase_rad = sim_random_between(random, -M_PI, M_PI);
    while (tone.orders * tone.frequency_hz > 20000.0)
        tone.orders--;
    for (int k = 2; k <= tone.orders; k++) {
        tone.relative[k] = pow(10.0, sim_random_between(random, -80.0, -60.0) / 20.0);
        tone.relative_rad[k] = sim_random_between(random, -M_PI, M_PI);
    }
    sim_add_tone(x, n, RATE, &tone);
    sim_add_white(x, n, RATE, density, random);
    struct lds_measurement measurement;
    sim_measure(x, n, RATE, NULL, &measurement);
    judge(sweep, 0, &measurement, tone.level, &tone);
    judge(sweep, 1, &measurement, tone.frequency_hz, &tone);
    double harmonics = 0.0;
    for (int k = 2; k <= tone.orders; k++)
        harmonics += pow(tone.level * tone.relative[k], 2.0);
    if (floor(20000.0 * 1.001 / tone.frequency_hz) >= 3.0)
        judge(sweep, 2, &measurement, sim_tone_thd_db(&tone, tone.orders), &tone);
    const double band = density * density * 19980.0, rest = band + harmonics;
    judge(sweep, 3, &measurement, 10.0 * log10(rest / (rest + tone.level * tone.level)), &tone);
    judge(sweep, 4, &measurement, sqrt(band), &tone);
    lds_measurement_free(&measurement);
    free(x);
}

int main(int argc, char **argv)
{
    struct sim_run run;
    struct sim_random random;
    sim_run_init(&run, argc, argv, "any tone frequency and level");
    sim_random_seed(&random, run.seed);
    struct sweep sweep = {0};
    const int captures = run.full ? 2000 : 80;
    for (int c = 0; c < captures; c++)
        one_capture(&sweep, 2.0, &random);
    for (int i = 0; i < FIGURES; i++) {
        const struct sim_cover *cover = &sweep.cover[i];
        char what[96];
        /* Three standard errors of a share of 0.95. */
        const double slack = 300.0 * sqrt(0.95 * 0.05 / captures);
        snprintf(what, sizeof what, "%s: intervals that hold the truth", keys[i]);
        sim_row(&run, what, cover->missing > 0 ? NAN : 100.0 * cover->held / cover->seen, 95.0 - slack,
                fmin(95.0 + slack, 100.0), "%");
        /* Of 2000 normal deviates one in 3000 such runs exceeds 5. */
        snprintf(what, sizeof what, "%s: largest error (%.2f Hz, %.1f dBFS)", keys[i], sweep.at_hz[i],
                 sweep.at_dbfs[i]);
        sim_row(&run, what, sweep.worst[i], 0.0, 5.0, "u");
    }
    return sim_run_end(&run);
}
