/* Scatter of tone.frequency and tone.level against the Cramer-Rao bounds of a real tone in white noise: var(A) >=
 * 2 sigma^2/N and var(f) >= 12 fs^2/((2 pi)^2 eta N (N^2-1)), eta = A^2/(2 sigma^2) (Rife and Boorstyn, IEEE Trans.
 * IT-20(5), 1974, for the complex tone; the real form checked against the exact Fisher matrix). At most 1.1 times. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "simulate/measured.h"
#include "simulate/signals.h"

static void scatter(struct sim_run *run, struct sim_random *random, double rate_hz, double seconds, double sigma,
                    int captures)
{
    const size_t n = (size_t)(rate_hz * seconds);
    const double amplitude = 0.9, count = (double)n;
    struct sim_moments level = {0}, frequency = {0};
    int absent = 0;
    for (int c = 0; c < captures; c++) {
        double *x = sim_samples(n);
        struct sim_tone tone = {.level = amplitude * M_SQRT1_2};
        tone.frequency_hz = sim_random_between(random, 300.0, 5000.0);
        tone.phase_rad = sim_random_between(random, -M_PI, M_PI);
        sim_add_tone(x, n, rate_hz, &tone);
        sim_add_white(x, n, rate_hz, sigma / sqrt(0.5 * rate_hz), random);
        struct lds_measurement measurement;
        sim_measure(x, n, rate_hz, NULL, &measurement);
        const double level_v = sim_value(&measurement, "tone.level");
        const double frequency_hz = sim_value(&measurement, "tone.frequency");
        if (isfinite(level_v) && isfinite(frequency_hz)) {
            sim_moments_add(&level, level_v - tone.level);
            sim_moments_add(&frequency, frequency_hz - tone.frequency_hz);
        } else {
            absent++;
        }
        lds_measurement_free(&measurement);
        free(x);
    }
    const double eta = amplitude * amplitude / (2.0 * sigma * sigma);
    const double level_bound = sigma / sqrt(count); /* of the rms level: sqrt(2 sigma^2/N) / sqrt 2 */
    const double frequency_bound = rate_hz / (2.0 * M_PI) * sqrt(12.0 / (eta * count * (count * count - 1.0)));
    /* Root mean square about the truth, so that a bias counts too. The reduced form allows three standard errors of a
     * standard deviation, 1/sqrt(2n). */
    const double limit = 1.1 * (1.0 + (run->full ? 0.0 : 3.0 / sqrt(2.0 * captures)));
    char what[96];
    snprintf(what, sizeof what, "tone.level, %g s at %g Hz, sigma %g: over the bound", seconds, rate_hz, sigma);
    sim_row(run, what, absent ? NAN : hypot(sim_moments_sd(&level), level.mean) / level_bound, 0.0, limit, "");
    snprintf(what, sizeof what, "tone.frequency, %g s at %g Hz, sigma %g: over the bound", seconds, rate_hz, sigma);
    sim_row(run, what, absent ? NAN : hypot(sim_moments_sd(&frequency), frequency.mean) / frequency_bound, 0.0, limit,
            "");
}

int main(int argc, char **argv)
{
    struct sim_run run;
    struct sim_random random;
    sim_run_init(&run, argc, argv, "tone.level and tone.frequency against the Cramer-Rao bounds");
    sim_random_seed(&random, run.seed);
    const int captures = run.full ? 1000 : 100;
    scatter(&run, &random, 48000.0, 1.0, 1e-3, captures);
    if (run.full) {
        scatter(&run, &random, 48000.0, 0.25, 1e-3, captures);
        scatter(&run, &random, 48000.0, 4.0, 1e-2, captures);
    }
    scatter(&run, &random, 48000.0, 4.0, 1e-4, captures);
    return sim_run_end(&run);
}
