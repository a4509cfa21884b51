/* THD near the noise: scatter against the bound 8.686 sqrt(S/2T)/V_h dB, which is the Cramer-Rao bound of a line's rms
 * level (var(A) >= 2 sigma^2/N, sigma^2 = S fs/2, rms = A/sqrt 2) seen through the root of a sum of squares; and bias,
 * at most 0.2 of it.
 *
 * Card noise: white with a 1/f corner at 100 Hz, its 20 kHz rms 110 dB below the tone. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "simulate/measured.h"
#include "simulate/signals.h"

enum { RATE = 48000 };

struct harmonics {
    const char *name;
    int orders;
    double share[8];
};

static void scatter(struct sim_run *run, struct sim_random *random, const struct harmonics *harmonics, double thd_db,
                    double seconds, int captures)
{
    const size_t n = (size_t)(RATE * seconds);
    const double level = 0.5;
    const struct sim_flicker noise = {.power = level * level * 1e-11 / 2e4, .corner_hz = 100.0};
    struct sim_colour *colour = sim_colour_new(n, RATE, sim_flicker_density, &noise);
    double norm = 0.0, bound2 = 0.0;
    for (int k = 2; k <= harmonics->orders; k++)
        norm += harmonics->share[k] * harmonics->share[k];
    struct sim_moments moments = {0};
    int absent = 0;
    for (int c = 0; c < captures; c++) {
        double *x = sim_samples(n);
        struct sim_tone tone = {.level = level, .orders = harmonics->orders};
        tone.frequency_hz = sim_random_between(random, 900.0, 1100.0);
        tone.phase_rad = sim_random_between(random, -M_PI, M_PI);
        const double v_h = level * pow(10.0, thd_db / 20.0);
        double weighted = 0.0; /* density at the harmonics, weighted by their share of the sum of squares */
        for (int k = 2; k <= harmonics->orders; k++) {
            const double power = harmonics->share[k] * harmonics->share[k] / norm;
            tone.relative[k] = sqrt(power) * pow(10.0, thd_db / 20.0);
            tone.relative_rad[k] = sim_random_between(random, -M_PI, M_PI);
            weighted += power * sim_flicker_density(k * tone.frequency_hz, &noise);
        }
        bound2 += weighted / (2.0 * seconds) / (v_h * v_h) / captures;
        sim_add_tone(x, n, RATE, &tone);
        sim_colour_add(colour, x, random);
        struct lds_measurement measurement;
        sim_measure(x, n, RATE, NULL, &measurement);
        const double thd = sim_value(&measurement, "thd");
        if (isfinite(thd))
            sim_moments_add(&moments, thd - thd_db);
        else
            absent++;
        lds_measurement_free(&measurement);
        free(x);
    }
    sim_colour_free(colour);
    const double bound = 8.686 * sqrt(bound2);
    /* Three standard errors of a standard deviation, 1/sqrt(2n), and of a mean, 1/sqrt(n), are allowed for the
     * simulation. */
    const double slack = 3.0 / sqrt(2.0 * captures);
    char what[96];
    snprintf(what, sizeof what, "%s %g dB, %g s: scatter over %.4f dB", harmonics->name, thd_db, seconds, bound);
    sim_row(run, what, absent > 0 ? NAN : sim_moments_sd(&moments) / bound, 0.0,
            1.1 * (1.0 + (run->full ? 0.0 : slack)), "");
    snprintf(what, sizeof what, "%s %g dB, %g s: bias over the same", harmonics->name, thd_db, seconds);
    const double limit = 0.2 + (run->full ? 0.0 : 3.0 / sqrt(captures));
    sim_row(run, what, moments.mean / bound, -limit, limit, "");
}

int main(int argc, char **argv)
{
    static const struct harmonics kinds[] = {
        {"second alone", 2, {0, 0, 1}},
        {"third alone", 3, {0, 0, 0, 1}},
        {"orders 2 to 7", 7, {0, 0, 1.0, 0.9, 0.5, 0.6, 0.3, 0.4}},
    };
    struct sim_run run;
    struct sim_random random;
    sim_run_init(&run, argc, argv, "scatter and bias of THD near the noise");
    sim_random_seed(&random, run.seed);
    const int captures = run.full ? 1000 : 40;
    for (size_t i = 0; i < sizeof kinds / sizeof kinds[0]; i++) {
        if (!run.full && i == 1)
            continue;
        scatter(&run, &random, &kinds[i], -110.0, 2.0, captures);
        if (run.full)
            scatter(&run, &random, &kinds[i], -117.5, 4.0, captures);
        scatter(&run, &random, &kinds[i], -125.0, 4.0, captures);
    }
    return sim_run_end(&run);
}
