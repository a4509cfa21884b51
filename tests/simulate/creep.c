/* A tone that creeps by 2 ppm and drifts by 0.1 dB/min compared with a steady one, with the same noise: THD+N must
 * change by less than 0.05 dB. (Subtracting one fixed sine from such a tone is wrong by tens of decibels.) */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "simulate/measured.h"
#include "simulate/signals.h"

enum { RATE = 48000 };

static void measure(const struct sim_tone *tone, double seconds, double density, uint64_t seed, double *thd_n,
                    double *thd)
{
    const size_t n = (size_t)(RATE * seconds);
    double *x = sim_samples(n);
    struct sim_random random;
    sim_random_seed(&random, seed);
    sim_add_tone(x, n, RATE, tone);
    sim_add_white(x, n, RATE, density, &random);
    struct lds_measurement measurement;
    sim_measure(x, n, RATE, NULL, &measurement);
    *thd_n = sim_value(&measurement, "thd_n");
    *thd = sim_value(&measurement, "thd");
    lds_measurement_free(&measurement);
    free(x);
}

int main(int argc, char **argv)
{
    struct sim_run run;
    sim_run_init(&run, argc, argv, "a tone creeping by 2 ppm and 0.1 dB/min against a steady one");
    const double lengths[] = {10.0, 30.0, 60.0};
    for (int i = 0; i < (run.full ? 3 : 1); i++) {
        for (int swinging = 0; swinging < 2; swinging++) {
            struct sim_tone tone = {.frequency_hz = 997.3, .level = 0.6, .phase_rad = 0.3, .orders = 3};
            tone.relative[2] = tone.relative[3] = 1e-6;
            const double density = 0.6 * pow(10.0, -115.0 / 20.0) / sqrt(2e4); /* residual 115 dB below the tone */
            double steady_n, steady, moved_n, moved;
            measure(&tone, lengths[i], density, run.seed, &steady_n, &steady);
            tone.drift_db_per_min = 0.1;
            if (swinging) {
                tone.swing_ppm = 1.0;
                tone.swing_periods = lengths[i] / 10.0;
            } else {
                tone.creep_ppm = 2.0;
            }
            measure(&tone, lengths[i], density, run.seed, &moved_n, &moved);
            char what[80];
            const char *how = swinging ? "swing of +-1 ppm in 10 s" : "creep of 2 ppm";
            snprintf(what, sizeof what, "%s, %g s, THD+N %.2f dB: moves by", how, lengths[i], steady_n);
            sim_row(&run, what, moved_n - steady_n, -0.05, 0.05, "dB");
            /* At -117 dB with this noise the bound on THD itself is 8.686 sqrt(S/2T)/V_h; the same noise is in both, so
             * they may differ by only a little of it: a fifth. */
            const double bound = 8.686 * density * sqrt(0.5 / lengths[i]) / (0.6e-6 * M_SQRT2);
            snprintf(what, sizeof what, "%s, %g s, THD %.2f dB: moves by", how, lengths[i], steady);
            sim_row(&run, what, moved - steady, -0.2 * bound - 0.01, 0.2 * bound + 0.01, "dB");
        }
    }
    return sim_run_end(&run);
}
