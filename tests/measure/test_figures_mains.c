/* Figures of the mains, and of a tone that moves. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "measure/judge.h"
#include "measure/mains/segment.h"
#include "simulate/measured.h"
#include "simulate/signals.h"

enum { RATE = 8000 };
static const double DENSITY = 1e-6;

static void measure(struct scene *scene, const double *x, size_t n)
{
    struct lds_measurement m;
    sim_measure(x, n, RATE, NULL, &m);
    judge_capture(scene, &m);
    lds_measurement_free(&m);
}

/* ---- hum, and its sidebands on a tone ---- */

enum { HUM_SAMPLES = 5 * RATE, HUM_CAPTURES = 48, ORDERS = 20 };
static const double TONE = 0.3, TONE_HZ = 827.0, SIDEBAND = 20e-6;

/* The uncertainty of the mains frequency allows for a mains that makes a random walk of 8 mHz over the root of a
 * second, which is more than the swing here. */
static struct judged hum_rows[] = {
    FIGURE("mains.frequency", .spread = {0.14, 0.28}),
    FIGURE("mains.total"),
    FIGURE("mains.odd"),
    FIGURE("mains.even"),
    FIGURE("mains.buzz"),
    FIGURE("mains.modulation"),
    FIGURE("mains.3.level"),
    FIGURE("mains.3.frequency", .kind = JUDGED_BARE, .bias = 1e-3),
};

/* Hum falls from 60 uV to 12 uV at the twentieth order; sidebands are at +-fm and +-2 fm. */
static void hum(struct scene *scene)
{
    for (unsigned seed = 1; seed <= HUM_CAPTURES; seed++) {
        struct sim_random random;
        sim_random_seed(&random, seed);
        double *x = sim_samples(HUM_SAMPLES), total = 0.0, even = 0.0, buzz = 0.0;
        struct sim_mains mains = {.frequency_hz = sim_random_between(&random, 49.95, 50.05),
                                  .wander_hz = 0.01,
                                  .wander_periods = 1.0,
                                  .orders = ORDERS};
        for (int k = 1; k <= ORDERS; k++) {
            mains.level[k] = 60e-6 / sqrt(k) * pow(10.0, sim_random_between(&random, -2.0, 2.0) / 20.0);
            mains.phase_rad[k] = sim_random_between(&random, -M_PI, M_PI);
            const double power = mains.level[k] * mains.level[k];
            total += power;
            even += k % 2 ? 0.0 : power;
            buzz += k > 10 ? power : 0.0;
        }
        sim_add_mains(x, HUM_SAMPLES, RATE, &mains);
        sim_add_tone(x, HUM_SAMPLES, RATE, &(struct sim_tone){.frequency_hz = TONE_HZ, .level = TONE});
        for (int k = -2; k <= 2; k++)
            if (k)
                sim_add_tone(x, HUM_SAMPLES, RATE,
                             &(struct sim_tone){.frequency_hz = TONE_HZ + k * mains.frequency_hz,
                                                .level = SIDEBAND,
                                                .phase_rad = sim_random_between(&random, -M_PI, M_PI)});
        sim_add_white(x, HUM_SAMPLES, RATE, DENSITY, &random);
        judge_truth(scene, "mains.frequency", mains.frequency_hz);
        judge_truth(scene, "mains.total", sqrt(total));
        judge_truth(scene, "mains.odd", sqrt(total - even));
        judge_truth(scene, "mains.even", sqrt(even));
        judge_truth(scene, "mains.buzz", sqrt(buzz));
        judge_truth(scene, "mains.modulation", 20.0 * log10(2.0 * SIDEBAND / TONE));
        judge_truth(scene, "mains.3.level", mains.level[3]);
        judge_truth(scene, "mains.3.frequency", 3.0 * mains.frequency_hz);
        measure(scene, x, HUM_SAMPLES);
        free(x);
    }
}

/* ---- hum that swells ---- */

enum { SWELL_SAMPLES = 8 * RATE, SWELL_CAPTURES = 40 };
static const double SWELL_DB = 2.0; /* over the capture */

static struct judged swell_rows[] = {
    FIGURE("mains.wander"),
};

/* Mean of 10^(SWELL_DB/10 u) over the eighth that begins at u, weighted by the square of the edge that the capture is
 * tapered with: the first and the last second. */
static double eighth_power(double begin)
{
    enum { STEPS = 1000 };
    double sum = 0.0, weight = 0.0;
    for (int i = 0; i < STEPS; i++) {
        const double u = begin + (i + 0.5) / (8.0 * STEPS), w = lds_mains_taper(1.0 / 8.0, u);
        sum += w * w * pow(10.0, 0.1 * SWELL_DB * u);
        weight += w * w;
    }
    return sum / weight;
}

static void swell(struct scene *scene)
{
    judge_truth(scene, "mains.wander", 10.0 * log10(eighth_power(7.0 / 8.0) / eighth_power(0.0)));
    for (unsigned seed = 1; seed <= SWELL_CAPTURES; seed++) {
        struct sim_random random;
        sim_random_seed(&random, seed);
        double *x = sim_samples(SWELL_SAMPLES);
        struct sim_mains mains = {.frequency_hz = sim_random_between(&random, 49.95, 50.05), .orders = 7};
        for (int k = 1; k <= mains.orders; k += 2) {
            mains.level[k] = 100e-6;
            mains.phase_rad[k] = sim_random_between(&random, -M_PI, M_PI);
        }
        sim_add_mains(x, SWELL_SAMPLES, RATE, &mains);
        for (size_t i = 0; i < SWELL_SAMPLES; i++)
            x[i] *= pow(10.0, SWELL_DB / 20.0 * ((double)i / SWELL_SAMPLES - 0.5));
        sim_add_white(x, SWELL_SAMPLES, RATE, DENSITY, &random);
        measure(scene, x, SWELL_SAMPLES);
        free(x);
    }
}

/* ---- a tone whose frequency swings ---- */

enum { SWING_SAMPLES = 10 * RATE, SWING_CAPTURES = 40 };
static const double SWING_PPM = 0.05;

static struct judged swing_rows[] = {
    FIGURE("tone.wander", .bias = 0.002, .spread = {0.5, 0.95}),
};

static void swing(struct scene *scene)
{
    judge_truth(scene, "tone.wander", 2.0 * SWING_PPM);
    for (unsigned seed = 1; seed <= SWING_CAPTURES; seed++) {
        struct sim_random random;
        sim_random_seed(&random, seed);
        double *x = sim_samples(SWING_SAMPLES);
        sim_add_tone(x, SWING_SAMPLES, RATE,
                     &(struct sim_tone){.frequency_hz = sim_random_between(&random, 950.0, 1050.0),
                                        .level = TONE,
                                        .phase_rad = sim_random_between(&random, -M_PI, M_PI),
                                        .swing_ppm = SWING_PPM,
                                        .swing_periods = 1.0});
        sim_add_white(x, SWING_SAMPLES, RATE, DENSITY, &random);
        measure(scene, x, SWING_SAMPLES);
        free(x);
    }
}

int main(int argc, char **argv)
{
    struct scene scenes[] = {
        {"hum", hum_rows, sizeof hum_rows / sizeof *hum_rows, hum},
        {"swell", swell_rows, sizeof swell_rows / sizeof *swell_rows, swell},
        {"swing", swing_rows, sizeof swing_rows / sizeof *swing_rows, swing},
    };
    return judge_main(argc, argv, scenes, sizeof scenes / sizeof *scenes);
}
