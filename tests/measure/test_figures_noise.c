/* Figures of an idle channel: noise, its shape and its steps, DC. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include <gsl/gsl_statistics_double.h>

#include "measure/judge.h"
#include "simulate/measured.h"
#include "simulate/signals.h"
#include "simulate/weighting.h"

static void measure(struct scene *scene, const double *x, size_t n, double rate_hz,
                    const struct lds_measure_options *options)
{
    struct lds_measurement m;
    struct lds_measure_options narrow;
    if (options)
        narrow = *options;
    else
        sim_options_init(&narrow);
    narrow.mains_hz = 50.0; /* there is no mains: a narrow search is a quick one */
    sim_measure(x, n, rate_hz, &narrow, &m);
    judge_capture(scene, &m);
    lds_measurement_free(&m);
}

/* ---- 1/f and white noise about a DC level ---- */

enum { RATE = 48000, IDLE_SAMPLES = 3 * RATE, IDLE_CAPTURES = 36 };
static const double IDLE_S = 3.0, CORNER_HZ = 300.0, DENSITY = 1e-6;

static struct judged idle_rows[] = {
    FIGURE("level.rms", .spread = {0.5, 0.95}),
    FIGURE("noise.band.20-20k"),
    FIGURE("noise.total.20-20k"),
    FIGURE("noise.a"),
    FIGURE("noise.density.1k"),
    FIGURE("noise.corner"),
    FIGURE("noise.kurtosis"),
    FIGURE("floor.density", .kind = JUDGED_OPEN, .at_hz = 3000.0, .dof = 1.0),
    FIGURE("floor.mean", .kind = JUDGED_OPEN, .at_hz = 3000.0, .dof = 1.0),
};

/* What is left after subtracting the capture's own mean. */
static double beside_mean(double frequency_hz, const void *context)
{
    (void)context;
    const struct sim_flicker flicker = {DENSITY * DENSITY, CORNER_HZ};
    const double x = M_PI * frequency_hz * IDLE_S;
    return sim_flicker_density(frequency_hz, &flicker) * (1.0 - pow(sin(x) / x, 2.0));
}

static void idle(struct scene *scene)
{
    const struct sim_flicker flicker = {DENSITY * DENSITY, CORNER_HZ};
    static const char *const BANDS[] = {"noise.band.20-20k", "noise.total.20-20k"};
    const double half = pow(10.0, 0.05);
    for (int i = 0; i < 2; i++) {
        judge_truth(scene, BANDS[i], sqrt(sim_band_power(20.0, 20e3, sim_flicker_density, &flicker, NULL)));
        judge_row(scene, BANDS[i])->dof = judge_band_dof(IDLE_S, 20.0, 20e3, sim_flicker_density, &flicker, NULL);
    }
    judge_truth(scene, "noise.a", sqrt(sim_band_power(20.0, 20e3, sim_flicker_density, &flicker, sim_a_weighting_db)));
    judge_row(scene, "noise.a")->dof =
        judge_band_dof(IDLE_S, 20.0, 20e3, sim_flicker_density, &flicker, sim_a_weighting_db);
    judge_truth(scene, "noise.density.1k",
                sqrt(sim_band_power(1e3 / half, 1e3 * half, sim_flicker_density, &flicker, NULL) /
                     (1e3 * (half - 1.0 / half))));
    judge_row(scene, "noise.density.1k")->dof = judge_band_dof(IDLE_S, 1e3 / half, 1e3 * half, NULL, NULL, NULL);
    judge_truth(scene, "level.rms", sqrt(sim_band_power(1e-3, 0.5 * RATE, beside_mean, NULL, NULL)));
    judge_truth(scene, "noise.corner", CORNER_HZ);
    judge_truth(scene, "noise.kurtosis", 0.0);
    /* bands are narrow: the density at their centre */
    judge_truth(scene, "floor.density", sqrt(sim_flicker_density(3000.0, &flicker)));
    judge_truth(scene, "floor.mean", sqrt(sim_flicker_density(3000.0, &flicker)));
    struct sim_colour *colour = sim_colour_new(IDLE_SAMPLES, RATE, sim_flicker_density, &flicker);
    for (unsigned seed = 1; seed <= IDLE_CAPTURES; seed++) {
        struct sim_random random;
        sim_random_seed(&random, seed);
        double *x = sim_samples(IDLE_SAMPLES);
        sim_colour_add(colour, x, &random);
        measure(scene, x, IDLE_SAMPLES, RATE, NULL);
        free(x);
    }
    sim_colour_free(colour);
}

/* ---- clicks ---- */

enum { CLICK_RATE = 16000, CLICK_SAMPLES = 30 * CLICK_RATE, CLICK_CAPTURES = 4, CLICKS = 24 };

/* Frames do not reach the ends of the capture, so less than all of it is analysed. */
static struct judged click_rows[] = {
    FIGURE("noise.bursts", .kind = JUDGED_CLOSED, .bias = 1.0),
};

static void clicking(struct scene *scene)
{
    const double per_minute = CLICKS / (CLICK_SAMPLES / (60.0 * CLICK_RATE));
    judge_truth(scene, "noise.bursts", per_minute);
    judge_row(scene, "noise.bursts")->u = per_minute / sqrt(CLICKS);
    for (unsigned seed = 1; seed <= CLICK_CAPTURES; seed++) {
        struct sim_random random;
        sim_random_seed(&random, seed);
        double *x = sim_samples(CLICK_SAMPLES);
        sim_add_white(x, CLICK_SAMPLES, CLICK_RATE, DENSITY, &random);
        for (int i = 0; i < CLICKS; i++)
            x[(size_t)((i + 0.2 + 0.6 * sim_random_uniform(&random)) * CLICK_SAMPLES / CLICKS)] += 3e-3;
        measure(scene, x, CLICK_SAMPLES, CLICK_RATE, NULL);
        free(x);
    }
}

/* ---- noise that slopes, about a DC level ---- */

enum { SLOPE_RATE = 16000, SLOPE_SAMPLES = 4 * SLOPE_RATE, SLOPE_CAPTURES = 40 };
static const double STEEP = 6.0 /* dB per decade */, DC = -3e-3;

static struct judged slope_rows[] = {
    FIGURE("level.dc", .dof = 7.0, .share = {1.0, 1.0}),
    FIGURE("noise.slope", .dof = 19.0, .or_infinite = true),
};

static double sloping(double frequency_hz, const void *context)
{
    (void)context;
    return DENSITY * DENSITY * pow(frequency_hz / 1e3, 0.1 * STEEP);
}

static void steep(struct scene *scene)
{
    struct sim_colour *colour = sim_colour_new(SLOPE_SAMPLES, SLOPE_RATE, sloping, NULL);
    struct lds_measure_options options;
    sim_options_init(&options);
    options.bench.dc_coupled = true;
    judge_truth(scene, "level.dc", DC);
    judge_truth(scene, "noise.slope", STEEP);
    for (unsigned seed = 1; seed <= SLOPE_CAPTURES; seed++) {
        struct sim_random random;
        sim_random_seed(&random, seed);
        double *x = sim_samples(SLOPE_SAMPLES);
        sim_colour_add(colour, x, &random);
        sim_add_white(x, SLOPE_SAMPLES, SLOPE_RATE, 1e-7, &random); /* so that there is something at 0 Hz */
        for (size_t i = 0; i < SLOPE_SAMPLES; i++)
            x[i] += DC;
        measure(scene, x, SLOPE_SAMPLES, SLOPE_RATE, &options);
        free(x);
    }
    sim_colour_free(colour);
}

/* ---- steps between two levels ---- */

enum { STEP_RATE = 8000, STEP_SAMPLES = 10 * STEP_RATE, STEP_CAPTURES = 40 };
static const double STEP = 50e-6;

/* The uncertainty of the rms of so slow a signal comes from its scatter over eight blocks, as for a signal that goes on
 * for longer; for the capture itself the rms is exact. */
static struct judged step_rows[] = {
    FIGURE("noise.popcorn"),
    FIGURE("level.rms", .dof = 7.0, .share = {1.0, 1.0}, .spread = {0.0, 0.5}, .width = {0.9, 1.5}),
    FIGURE("level.crest", .dof = 7.0, .share = {1.0, 1.0}, .spread = {0.0, 0.5}),
};

static void stepping(struct scene *scene)
{
    judge_truth(scene, "noise.popcorn", STEP);
    for (unsigned seed = 1; seed <= STEP_CAPTURES; seed++) {
        struct sim_random random;
        sim_random_seed(&random, seed);
        double *x = sim_samples(STEP_SAMPLES);
        sim_add_white(x, STEP_SAMPLES, STEP_RATE, DENSITY, &random);
        bool up = false;
        for (size_t i = 0, next = 0; i < STEP_SAMPLES; i++) {
            if (i == next) {
                up = !up;
                next += (size_t)(STEP_RATE * sim_random_between(&random, 0.4, 1.2));
            }
            x[i] += up ? STEP : 0.0;
        }
        const double mean = gsl_stats_mean(x, 1, STEP_SAMPLES),
                     rms = sqrt(gsl_stats_tss_m(x, 1, STEP_SAMPLES, mean) / STEP_SAMPLES);
        const double peak = fmax(gsl_stats_max(x, 1, STEP_SAMPLES) - mean, mean - gsl_stats_min(x, 1, STEP_SAMPLES));
        judge_truth(scene, "level.rms", rms);
        judge_truth(scene, "level.crest", 20.0 * log10(peak / rms));
        measure(scene, x, STEP_SAMPLES, STEP_RATE, NULL);
        free(x);
    }
}

/* ---- bands that only fast captures have ---- */

enum { FAST_RATE = 1000000, FAST_SAMPLES = FAST_RATE / 5, FAST_CAPTURES = 24 };
static const double FAST_S = 0.2, FAST_SPUR_HZ = 61803.0, FAST_SPUR = 60e-6;

/* So short a capture has few frames, which leave out half a frame at both ends. */
static struct judged fast_rows[] = {
    FIGURE("noise.band.20k-100k", .share = {0.4, 0.7}),
    FIGURE("noise.band.100k-500k", .share = {0.4, 0.7}),
    FIGURE("noise.total.20k-100k", .share = {0.4, 0.7}),
    FIGURE("noise.total.100k-500k", .share = {0.4, 0.7}),
    FIGURE("noise.density.100k", .share = {0.4, 0.7}),
    FIGURE("spurs.level", .kind = JUDGED_BARE, .at_hz = 61803.0, .bias = 1e-7),
};

static void fast(struct scene *scene)
{
    const double half = pow(10.0, 0.05), noise = DENSITY * DENSITY;
    judge_truth(scene, "noise.band.20k-100k", sqrt(noise * 80e3));
    judge_truth(scene, "noise.band.100k-500k", sqrt(noise * 350e3)); /* to 0.45 of the rate */
    judge_truth(scene, "noise.total.20k-100k", sqrt(noise * 80e3 + FAST_SPUR * FAST_SPUR));
    judge_truth(scene, "noise.total.100k-500k", sqrt(noise * 350e3));
    judge_truth(scene, "noise.density.100k", DENSITY);
    judge_truth(scene, "spurs.level", FAST_SPUR);
    judge_row(scene, "noise.band.20k-100k")->dof = judge_row(scene, "noise.total.20k-100k")->dof =
        judge_band_dof(FAST_S, 20e3, 100e3, NULL, NULL, NULL);
    judge_row(scene, "noise.band.100k-500k")->dof = judge_row(scene, "noise.total.100k-500k")->dof =
        judge_band_dof(FAST_S, 100e3, 450e3, NULL, NULL, NULL);
    judge_row(scene, "noise.density.100k")->dof = judge_band_dof(FAST_S, 100e3 / half, 100e3 * half, NULL, NULL, NULL);
    for (unsigned seed = 1; seed <= FAST_CAPTURES; seed++) {
        struct sim_random random;
        sim_random_seed(&random, seed);
        double *x = sim_samples(FAST_SAMPLES);
        sim_add_white(x, FAST_SAMPLES, FAST_RATE, DENSITY, &random);
        sim_add_tone(x, FAST_SAMPLES, FAST_RATE, &(struct sim_tone){.frequency_hz = FAST_SPUR_HZ, .level = FAST_SPUR});
        struct lds_measure_options options;
        sim_options_init(&options);
        options.tone_hz = 0.0;
        measure(scene, x, FAST_SAMPLES, FAST_RATE, &options);
        free(x);
    }
}

int main(int argc, char **argv)
{
    struct scene scenes[] = {
        {"idle", idle_rows, sizeof idle_rows / sizeof *idle_rows, idle},
        {"clicks", click_rows, sizeof click_rows / sizeof *click_rows, clicking},
        {"slope", slope_rows, sizeof slope_rows / sizeof *slope_rows, steep},
        {"steps", step_rows, sizeof step_rows / sizeof *step_rows, stepping},
        {"fast", fast_rows, sizeof fast_rows / sizeof *fast_rows, fast},
    };
    return judge_main(argc, argv, scenes, sizeof scenes / sizeof *scenes);
}
