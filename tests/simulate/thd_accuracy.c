/* THD of a 24-bit file whose only noise is its dither: 10 s at 192 kHz, within 0.01 dB to -120 dB and 0.05 dB to -140
 * dB. The dither's own scatter, 8.686 sqrt(S/2T)/V_h, is 0.0006 dB at -120 dB and 0.006 dB at -140 dB for a tone near
 * full scale, so both limits test the program and not chance. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "simulate/measured.h"
#include "simulate/signals.h"

enum { RATE = 192000, SECONDS = 10 };

static double thd_error_db(struct sim_random *random, double thd_db, double frequency_hz)
{
    const size_t n = (size_t)RATE * SECONDS;
    double *x = sim_samples(n);
    struct sim_tone tone = {.frequency_hz = frequency_hz, .level = 0.89 * M_SQRT1_2, .orders = 5};
    tone.phase_rad = sim_random_between(random, -M_PI, M_PI);
    const double share[6] = {0, 0, 0.6, 0.7, 0.2, 0.3}; /* of the rms sum; normalised below */
    double norm = 0.0;
    for (int k = 2; k <= 5; k++)
        norm += share[k] * share[k];
    for (int k = 2; k <= 5; k++) {
        tone.relative[k] = share[k] / sqrt(norm) * pow(10.0, thd_db / 20.0);
        tone.relative_rad[k] = sim_random_between(random, -M_PI, M_PI);
    }
    sim_add_tone(x, n, RATE, &tone);
    sim_quantise(x, n, 24, random);
    struct lds_measurement measurement;
    sim_measure(x, n, RATE, NULL, &measurement);
    const double error = sim_value(&measurement, "thd") - thd_db;
    lds_measurement_free(&measurement);
    free(x);
    return error;
}

int main(int argc, char **argv)
{
    struct sim_run run;
    struct sim_random random;
    sim_run_init(&run, argc, argv, "THD of a 24-bit file, 10 s at 192 kHz, dither its only noise");
    sim_random_seed(&random, run.seed);
    const int step = run.full ? 10 : 20;
    const int repeats = run.full ? 5 : 1;
    for (int thd_db = -60; thd_db >= -140; thd_db -= step) {
        double worst = 0.0;
        for (int i = 0; i < repeats; i++) {
            const double frequency_hz = sim_random_between(&random, 400.0, 3500.0);
            const double error = thd_error_db(&random, thd_db, frequency_hz);
            if (!(fabs(error) <= fabs(worst)))
                worst = error;
        }
        char what[80];
        const double limit = thd_db >= -120 ? 0.01 : 0.05;
        snprintf(what, sizeof what, "THD %d dB: largest error of %d", thd_db, repeats);
        sim_row(&run, what, worst, -limit, limit, "dB");
    }
    return sim_run_end(&run);
}
