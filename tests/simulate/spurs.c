/* Lines invented on noise: at most one spectrum in 1000 may show a false spur. White, 1/f and shaped noise, idle and
 * beside a tone, 1 to 8 s long. A rate of exactly 1e-3 gives in n spectra a Poisson count; the limit is that count's 99
 * % point, so that chance does not fail a sound program. False tones are counted in the same way. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include <gsl/gsl_cdf.h>

#include "loadside/series.h"
#include "simulate/measured.h"
#include "simulate/signals.h"

enum { RATE = 48000, LENGTHS = 4 };

/* What a second-order noise shaper leaves, over a white floor 60 dB below its top: (2 sin(pi f/fs))^4. */
static double shaped_density(double frequency_hz, const void *context)
{
    const double *power = context;
    return *power * (16e-6 + pow(2.0 * sin(M_PI * frequency_hz / RATE), 4.0));
}

struct kind {
    const char *name;
    double (*density)(double, const void *);
    const void *context;
};

static unsigned poisson_limit(double mean)
{
    unsigned k = 0;
    while (gsl_cdf_poisson_P(k, mean) < 0.99)
        k++;
    return k;
}

static void invented(struct sim_run *run, struct sim_random *random, const struct kind *kind, int captures)
{
    static const double seconds[LENGTHS] = {1.0, 2.0, 4.0, 8.0};
    int spurs = 0, tones = 0, idle = 0;
    for (int length = 0; length < LENGTHS; length++) {
        const size_t n = (size_t)(RATE * seconds[length]);
        struct sim_colour *colour = sim_colour_new(n, RATE, kind->density, kind->context);
        for (int c = length; c < captures; c += LENGTHS) {
            double *x = sim_samples(n);
            const bool toned = (c / LENGTHS) % 2 == 1;
            if (toned) {
                struct sim_tone tone = {.level = 0.5, .orders = 3};
                tone.frequency_hz = sim_random_log_between(random, 100.0, 5000.0);
                tone.relative[2] = tone.relative[3] = 1e-4;
                sim_add_tone(x, n, RATE, &tone);
            }
            sim_colour_add(colour, x, random);
            struct lds_measurement measurement;
            sim_measure(x, n, RATE, NULL, &measurement);
            const struct lds_series *found = lds_channel_series(&measurement.channel[0], "spurs");
            spurs += found->rows > 0;
            if (found->rows > 0)
                printf("       %g s, %s: %.2f Hz, margin %.2f dB, %s\n", seconds[length], toned ? "tone" : "idle",
                       lds_series_value(found, 0, LDS_SPUR_HZ), lds_series_value(found, 0, LDS_SPUR_MARGIN),
                       found->text[0]);
            if (!toned) {
                idle++;
                tones += isfinite(sim_value(&measurement, "tone.level"));
            }
            lds_measurement_free(&measurement);
            free(x);
        }
        sim_colour_free(colour);
    }
    char what[96];
    snprintf(what, sizeof what, "%s: spectra of %d with an invented spur", kind->name, captures);
    sim_row(run, what, spurs, 0.0, poisson_limit(captures * 1e-3), "");
    snprintf(what, sizeof what, "%s: of %d idle captures, with an invented tone", kind->name, idle);
    sim_row(run, what, tones, 0.0, poisson_limit(idle * 1e-3), "");
}

int main(int argc, char **argv)
{
    static const struct sim_flicker white = {.power = 1e-14, .corner_hz = 0.0};
    static const struct sim_flicker flicker = {.power = 1e-14, .corner_hz = 1000.0};
    static const double shaped = 1e-14;
    const struct kind kinds[] = {
        {"white", sim_flicker_density, &white},
        {"1/f below 1 kHz", sim_flicker_density, &flicker},
        {"shaped", shaped_density, &shaped},
    };
    struct sim_run run;
    struct sim_random random;
    sim_run_init(&run, argc, argv, "spurs invented on noise");
    sim_random_seed(&random, run.seed);
    for (size_t i = 0; i < sizeof kinds / sizeof kinds[0]; i++)
        invented(&run, &random, &kinds[i], run.full ? 4000 : 60);
    return sim_run_end(&run);
}
