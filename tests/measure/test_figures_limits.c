/* Figures that do not stand out of the noise: no value, and an upper limit about as high as the noise suggests. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "measure/judge.h"
#include "simulate/measured.h"
#include "simulate/signals.h"

enum { RATE = 48000, SAMPLES = RATE, CAPTURES = 16 };
static const double SECONDS = 1.0, LEVEL = 0.3, DENSITY = 1e-6;

/* `bias`: how far the closed forms may be off; half a limit is 6 dB. */
#define LIMIT(name, ...) FIGURE(name, .kind = JUDGED_LIMIT, __VA_ARGS__)

static void measure(struct scene *scene, const double *x, size_t n)
{
    struct lds_measurement m;
    sim_measure(x, n, RATE, NULL, &m);
    judge_capture(scene, &m);
    lds_measurement_free(&m);
}

/* The sum of powers P of m lines that reads as the mean of the noise alone, n each, once in 40 times, when the reading
 * counts as normal with the variance 2 P n + m n^2: P = n (k^2 + k sqrt(k^2 + m)), k = 1.96. As an amplitude. */
static double most(double noise, double m)
{
    const double k = 1.96;
    return sqrt(noise * (k * k + k * sqrt(k * k + m)));
}

/* ---- a tone without harmonics or hum ---- */

static struct judged tone_rows[] = {
    LIMIT("thd", .bias = 3.0),
    LIMIT("harmonics.3.level", .bias = 3.0),
    LIMIT("harmonics.3.relative", .bias = 3.0),
    LIMIT("mains.total", .bias = 3.0),
    LIMIT("mains.odd", .bias = 3.0),
    LIMIT("mains.even", .bias = 3.0),
    LIMIT("mains.buzz", .bias = 3.0),
};

static void tone(struct scene *scene)
{
    const double noise = DENSITY * DENSITY / SECONDS;
    /* harmonics 2 to 20 */
    judge_row(scene, "thd")->u = most(noise, 19.0) / LEVEL;
    judge_row(scene, "harmonics.3.level")->u = most(noise, 1.0);
    judge_row(scene, "harmonics.3.relative")->u = most(noise, 1.0) / LEVEL;
    /* 40 orders of hum, but for two that the tone hides; a second tapered over half of it has half as wide a bin again
     */
    judge_row(scene, "mains.total")->u = most(1.5 * noise, 38.0);
    judge_row(scene, "mains.odd")->u = judge_row(scene, "mains.even")->u = most(1.5 * noise, 19.0);
    judge_row(scene, "mains.buzz")->u = most(1.5 * noise, 28.0);
    for (unsigned seed = 1; seed <= CAPTURES; seed++) {
        struct sim_random random;
        sim_random_seed(&random, seed);
        double *x = sim_samples(SAMPLES);
        sim_add_tone(x, SAMPLES, RATE, &(struct sim_tone){.frequency_hz = 983.0, .level = LEVEL});
        sim_add_white(x, SAMPLES, RATE, DENSITY, &random);
        measure(scene, x, SAMPLES);
        free(x);
    }
}

/* ---- hum without sidebands on the tone ---- */

enum { HUM_SAMPLES = 4 * RATE / 2 };

static struct judged hum_rows[] = {
    LIMIT("mains.modulation", .bias = 3.0),
    LIMIT("mains.4.level", .bias = 3.0),
};

static void hum(struct scene *scene)
{
    /* four sidebands read from some ten frames of the spectrum, by bins over two and a half wide each */
    const double noise = DENSITY * DENSITY / 2.0, spectral = noise * 2.0 * sqrt(10.0);
    judge_row(scene, "mains.modulation")->u = sqrt(1.96 * sqrt(4.0) * spectral) / LEVEL;
    judge_row(scene, "mains.4.level")->u = most(1.25 * noise, 1.0);
    for (unsigned seed = 1; seed <= CAPTURES; seed++) {
        struct sim_random random;
        sim_random_seed(&random, seed);
        double *x = sim_samples(HUM_SAMPLES);
        struct sim_mains mains = {.frequency_hz = 50.03, .orders = 5};
        mains.level[1] = mains.level[3] = mains.level[5] = 1e-4;
        sim_add_mains(x, HUM_SAMPLES, RATE, &mains);
        sim_add_tone(x, HUM_SAMPLES, RATE, &(struct sim_tone){.frequency_hz = 823.0, .level = LEVEL});
        sim_add_white(x, HUM_SAMPLES, RATE, DENSITY, &random);
        measure(scene, x, HUM_SAMPLES);
        free(x);
    }
}

/* ---- an idle output without steps ---- */

static struct judged idle_rows[] = {
    LIMIT("noise.popcorn", .bias = 1.5),
};

/* Six standard deviations of the difference of two means over 0.1 s, S/(2 t) each. */
static void idle(struct scene *scene)
{
    judge_row(scene, "noise.popcorn")->u = 6.0 * DENSITY * sqrt(2.0 * 0.5 / 0.1);
    for (unsigned seed = 1; seed <= CAPTURES; seed++) {
        struct sim_random random;
        sim_random_seed(&random, seed);
        double *x = sim_samples(4 * SAMPLES);
        sim_add_white(x, 4 * SAMPLES, RATE, DENSITY, &random);
        measure(scene, x, 4 * SAMPLES);
        free(x);
    }
}

int main(int argc, char **argv)
{
    struct scene scenes[] = {
        {"tone", tone_rows, sizeof tone_rows / sizeof *tone_rows, tone},
        {"hum", hum_rows, sizeof hum_rows / sizeof *hum_rows, hum},
        {"idle", idle_rows, sizeof idle_rows / sizeof *idle_rows, idle},
    };
    return judge_main(argc, argv, scenes, sizeof scenes / sizeof *scenes);
}
