/* The bench's tolerances in the figures: u_b and its effect on the limits, where it is the larger part. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "measure/judge.h"
#include "simulate/measured.h"
#include "simulate/signals.h"
#include "simulate/weighting.h"

enum { RATE = 48000, SAMPLES = 2 * RATE, CAPTURES = 6, ORDERS = 20 };
static const double CALIBRATION = 0.1, LOAD_TOLERANCE = 0.04, CLOCK = 1e-4, OFFSET = 1e-3, DC = 3e-3;
static const double SCALE = 2.0, LEVEL = 0.3, DENSITY = 1e-6, LOAD = 8.0, F1 = 823.0, FM = 50.02, HUM = 100e-6;

/* The values scatter far less here than the bench's tolerance: they are judged elsewhere. */
#define OF_BENCH(name, off) FIGURE(name, .kind = JUDGED_CLOSED, .bias = (off))
/* Degrees of freedom are judged elsewhere, too. */
#define OF_NOISE(name, off)                                                                                            \
    FIGURE(name, .kind = JUDGED_CLOSED, .bias = (off), .dof = 1e5, .share = {1e-4, 10.0}, .width = {0.9, 1.2})

static struct judged driven_rows[] = {
    OF_BENCH("level.rms", 1e-4),
    OF_BENCH("level.peak", 1e-3),
    FIGURE("level.dc", .kind = JUDGED_CLOSED, .bias = 1e-5, .dof = 7.0, .share = {1.0, 1.0}, .width = {0.6, 1.3}),
    OF_BENCH("tone.frequency", 1e-4),
    OF_BENCH("tone.level", 1e-4),
    OF_BENCH("tone.power", 1e-4),
    OF_BENCH("residual.peak", 1e-4),
    OF_NOISE("noise.band.20-20k", 2e-6),
    OF_NOISE("noise.total.20-20k", 5e-6),
    OF_NOISE("noise.a", 5e-6),
    OF_NOISE("noise.itu468", 5e-6),
    OF_NOISE("noise.density.1k", 1e-7),
    OF_NOISE("noise.density.10k", 1e-7),
    OF_BENCH("mains.frequency", 2e-3),
    OF_BENCH("mains.total", 1e-5),
    OF_BENCH("mains.odd", 1e-5),
    OF_BENCH("mains.even", 1e-5),
    OF_BENCH("mains.buzz", 1e-5),
};

/* u = a/sqrt(3) for limits +-a when nothing else is known (GUM 4.3.7). */
static double standard(double limit)
{
    return limit / sqrt(3.0);
}

static void truth(struct scene *scene, const char *key, double value, double u)
{
    judge_truth(scene, key, value);
    judge_row(scene, key)->u = u;
}

static double white(double frequency_hz, const void *context)
{
    (void)frequency_hz;
    (void)context;
    return SCALE * SCALE * DENSITY * DENSITY;
}

static double no_weighting_db(double frequency_hz)
{
    (void)frequency_hz;
    return 0.0;
}

/* With hum. A third octave has few degrees of freedom, whose part of the uncertainty counts. */
static void noise_truths(struct scene *scene, double relative)
{
    static const struct {
        const char *key;
        double (*weighting_db)(double);
    } WEIGHTED[] = {{"noise.total.20-20k", no_weighting_db},
                    {"noise.a", sim_a_weighting_db},
                    {"noise.itu468", sim_itu468_weighting_db}};
    for (int i = 0; i < 3; i++) {
        double power = sim_band_power(20.0, 20e3, white, NULL, WEIGHTED[i].weighting_db);
        for (int k = 1; k <= ORDERS; k++)
            power += SCALE * SCALE * HUM * HUM * pow(10.0, 0.1 * WEIGHTED[i].weighting_db(k * FM));
        truth(scene, WEIGHTED[i].key, sqrt(power), relative * sqrt(power));
    }
    truth(scene, "noise.density.1k", SCALE * DENSITY, 1.14 * relative * SCALE * DENSITY);
    truth(scene, "noise.density.10k", SCALE * DENSITY, relative * SCALE * DENSITY);
}

static void truths(struct scene *scene, const struct sim_tone *tone)
{
    static const char *const SUMS[] = {"mains.total", "mains.odd", "mains.even", "mains.buzz"};
    static const double ORDERS_IN[] = {20.0, 10.0, 10.0, 10.0};
    const double relative = standard(CALIBRATION), level = SCALE * LEVEL, power = level * level / LOAD;
    const double noise = SCALE * DENSITY * sqrt(20e3 - 20.0);
    for (int i = 0; i < 4; i++)
        truth(scene, SUMS[i], SCALE * HUM * sqrt(ORDERS_IN[i]), relative * SCALE * HUM * sqrt(ORDERS_IN[i]));
    const double rms = sqrt(level * level * (1.0 + tone->relative[2] * tone->relative[2]) +
                            20.0 * SCALE * SCALE * HUM * HUM + SCALE * SCALE * DENSITY * DENSITY * 0.5 * RATE);
    truth(scene, "level.rms", rms, relative * rms);
    truth(scene, "level.dc", SCALE * DC, hypot(standard(OFFSET), relative * SCALE * DC));
    truth(scene, "tone.frequency", F1, standard(CLOCK * F1));
    truth(scene, "mains.frequency", FM, standard(CLOCK * FM));
    truth(scene, "tone.level", level, relative * level);
    truth(scene, "tone.power", power, power * hypot(2.0 * relative, standard(LOAD_TOLERANCE)));
    truth(scene, "residual.peak", M_SQRT2 * level * tone->relative[2], relative * M_SQRT2 * level * tone->relative[2]);
    truth(scene, "noise.band.20-20k", noise, relative * noise);
    noise_truths(scene, relative);
}

static void driven(struct scene *scene)
{
    struct lds_measure_options options;
    sim_options_init(&options);
    options.bench.full_scale_v = SCALE;
    options.bench.calibration_percent = 100.0 * CALIBRATION;
    options.bench.load_ohm = LOAD;
    options.bench.load_percent = 100.0 * LOAD_TOLERANCE;
    options.bench.clock_ppm = 1e6 * CLOCK;
    options.bench.dc_coupled = true;
    options.bench.offset_v = OFFSET;
    for (unsigned seed = 1; seed <= CAPTURES; seed++) {
        struct sim_random random;
        sim_random_seed(&random, seed);
        double *x = sim_samples(SAMPLES), peak = 0.0;
        struct sim_tone tone = {.frequency_hz = F1, .level = LEVEL, .orders = 2};
        tone.relative[2] = 1e-2;
        sim_add_tone(x, SAMPLES, RATE, &tone);
        struct sim_mains mains = {.frequency_hz = FM, .orders = ORDERS};
        for (int k = 1; k <= mains.orders; k++) {
            mains.level[k] = HUM;
            mains.phase_rad[k] = sim_random_between(&random, -M_PI, M_PI);
        }
        sim_add_mains(x, SAMPLES, RATE, &mains);
        sim_add_white(x, SAMPLES, RATE, DENSITY, &random);
        for (size_t i = 0; i < SAMPLES; i++) {
            x[i] += DC;
            peak = fmax(peak, fabs(x[i]));
        }
        truths(scene, &tone);
        truth(scene, "level.peak", SCALE * peak, standard(CALIBRATION) * SCALE * peak);
        struct lds_measurement m;
        sim_measure(x, SAMPLES, RATE, &options, &m);
        judge_capture(scene, &m);
        lds_measurement_free(&m);
        free(x);
    }
}

/* ---- steps between two levels: an idle capture ---- */

enum { STEP_RATE = 8000, STEP_SAMPLES = 4 * STEP_RATE };
static const double STEP = 1e-3;

static struct judged idle_rows[] = {
    FIGURE("noise.popcorn", .kind = JUDGED_CLOSED, .bias = 1e-4),
};

static void idle(struct scene *scene)
{
    struct lds_measure_options options;
    struct sim_random random;
    sim_options_init(&options);
    options.bench.full_scale_v = SCALE;
    options.bench.calibration_percent = 100.0 * CALIBRATION;
    sim_random_seed(&random, 1);
    double *x = sim_samples(STEP_SAMPLES);
    sim_add_white(x, STEP_SAMPLES, STEP_RATE, DENSITY, &random);
    for (size_t i = 0; i < STEP_SAMPLES; i++)
        x[i] += (i + STEP_RATE / 400) / (STEP_SAMPLES / 8) % 2 ? STEP : 0.0;
    truth(scene, "noise.popcorn", SCALE * STEP, standard(CALIBRATION) * SCALE * STEP);
    struct lds_measurement m;
    sim_measure(x, STEP_SAMPLES, STEP_RATE, &options, &m);
    judge_capture(scene, &m);
    lds_measurement_free(&m);
    free(x);
}

int main(int argc, char **argv)
{
    struct scene scenes[] = {
        {"driven", driven_rows, sizeof driven_rows / sizeof *driven_rows, driven},
        {"idle", idle_rows, sizeof idle_rows / sizeof *idle_rows, idle},
    };
    return judge_main(argc, argv, scenes, sizeof scenes / sizeof *scenes);
}
