/* A line at any frequency counts in full: THD+N and noise.total of a capture with a tone, a little noise and one line
 * that is not a harmonic. The spectrum is composed of levels of different rates; a line across the seam of two of them,
 * half in each, shows here. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "simulate/measured.h"
#include "simulate/signals.h"

enum { RATE = 48000 };

static const double tone_hz = 1000.3, tone_level = 0.3, line_level = 3e-5, density = 2e-9;

struct worst {
    double error_db, at_hz;
};

static void keep(struct worst *worst, double error_db, double line_hz)
{
    if (!(fabs(error_db) <= fabs(worst->error_db)))
        *worst = (struct worst){error_db, line_hz};
}

static bool apart_from_harmonics(double line_hz)
{
    const double order = line_hz / tone_hz;
    return fabs(order - nearbyint(order)) * tone_hz > 60.0 || order < 0.5;
}

static void one_line(struct worst worst[2], double line_hz, double seconds, struct sim_random *random)
{
    if (!apart_from_harmonics(line_hz))
        return;
    const size_t n = (size_t)(RATE * seconds);
    double *x = sim_samples(n);
    const struct sim_tone tone = {.frequency_hz = tone_hz, .level = tone_level};
    const struct sim_tone line = {.frequency_hz = line_hz, .level = line_level, .phase_rad = 1.0};
    sim_add_tone(x, n, RATE, &tone);
    sim_add_tone(x, n, RATE, &line);
    sim_add_white(x, n, RATE, density, random);
    struct lds_measurement measurement;
    sim_measure(x, n, RATE, NULL, &measurement);
    const double rest = line_level * line_level + density * density * 19980.0;
    const double thd_n_db = 10.0 * log10(rest / (rest + tone_level * tone_level));
    keep(&worst[0], sim_value(&measurement, "thd_n") - thd_n_db, line_hz);
    keep(&worst[1], 20.0 * log10(sim_value(&measurement, "noise.total.20-20k") / sqrt(rest)), line_hz);
    lds_measurement_free(&measurement);
    free(x);
}

/* The line is 40 dB above the noise of the band, and its own scatter 8.686 sqrt(S/2T)/V is 0.0004 dB: the rest of 0.01
 * dB is allowed for the program. */
static void report(struct sim_run *run, const struct worst worst[2], const char *where)
{
    static const char *const keys[2] = {"thd_n", "noise.total.20-20k"};
    for (int i = 0; i < 2; i++) {
        char what[96];
        snprintf(what, sizeof what, "%s: %s, largest error (line at %.2f Hz)", where, keys[i], worst[i].at_hz);
        sim_row(run, what, worst[i].error_db, -0.01, 0.01, "dB");
    }
}

int main(int argc, char **argv)
{
    struct sim_run run;
    struct sim_random random;
    sim_run_init(&run, argc, argv, "a line at any frequency counts whole");
    sim_random_seed(&random, run.seed);
    struct worst anywhere[2] = {0}, seams[2] = {0};
    for (int i = 0; i < (run.full ? 3000 : 60); i++)
        one_line(anywhere, sim_random_log_between(&random, 30.0, 19900.0), i % 2 == 0 ? 2.0 : 6.0, &random);
    report(&run, anywhere, "anywhere");
    /* 0.38 and 0.4 of the decimated rates: where levels of 6, 12 and 24 kHz may end. */
    static const double seam_hz[] = {2280.0, 2400.0, 4560.0, 4800.0, 9120.0, 9600.0};
    for (int s = 0; s < (run.full ? 6 : 2); s++)
        for (int i = -10; i <= 10; i += run.full ? 1 : 4)
            one_line(seams, seam_hz[s] + 1.3 * i, 4.0, &random);
    report(&run, seams, "seams");
    return sim_run_end(&run);
}
