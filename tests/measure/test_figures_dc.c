/* Figures of DC behaviour, as they leave the library: an amplifier that is switched on, of which everything is known in
 * closed form: v = offset + thump + two exponentials, with hum, a tone and noise. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "measure/judge.h"
#include "simulate/measured.h"
#include "simulate/signals.h"

enum { CAPTURES = 40 };
static const double FULL_SCALE_V = 4.0, BAND_V = 0.05, BIAS_OHM = 1e6;

/* In V and s. */
struct course {
    double rate_hz, seconds, on_s;
    double thump, thump_tau;
    double b[2], tau[2], offset;
    double hum, tone, noise; /* rms; the noise in V/sqrt(Hz) */
    double wander, wander_hz;
    bool always_on; /* the capture begins when it was on already */
};

static double slow(const struct course *c, double t)
{
    double value = c->offset;
    for (int k = 0; k < 2; k++)
        value += c->tau[k] > 0.0 ? c->b[k] * exp(-t / c->tau[k]) : 0.0;
    return value;
}

static double output(const struct course *c, double t)
{
    return slow(c, t) + c->thump * exp(-t / c->thump_tau);
}

/* When its magnitude passes the band for the last time, which it does falling. */
static double settle_s(const struct course *c)
{
    double low = 0.0, high = c->seconds - c->on_s;
    for (int i = 0; i < 60; i++) {
        double middle = 0.5 * (low + high);
        if (fabs(output(c, middle)) > BAND_V)
            low = middle;
        else
            high = middle;
    }
    return low;
}

static double final_v(const struct course *c)
{
    double last = fmax(1.0, 0.1 * c->seconds), end = c->seconds - c->on_s, value = c->offset;
    for (int k = 0; k < 2; k++)
        value += c->tau[k] > 0.0 ? c->b[k] * c->tau[k] * (exp(-(end - last) / c->tau[k]) - exp(-end / c->tau[k])) / last
                                 : 0.0;
    return value;
}

static void measure_one(struct scene *scene, const struct course *c, unsigned seed)
{
    struct lds_measure_options options;
    struct lds_measurement m;
    struct sim_random random;
    struct sim_mains mains = {.frequency_hz = 50.013, .wander_hz = 0.005, .wander_periods = 0.7, .orders = 4};
    sim_random_seed(&random, seed);
    sim_options_init(&options);
    options.bench.full_scale_v = FULL_SCALE_V;
    options.bench.dc_coupled = true;
    options.bias_ohm = BIAS_OHM;
    const size_t n = (size_t)llround(c->seconds * c->rate_hz);
    double *x = sim_samples(n), *lines = sim_samples(n), phase = sim_random_between(&random, 0.0, 2.0 * M_PI);
    for (int k = 1; k <= mains.orders; k++) {
        mains.level[k] = c->hum / (k * k);
        mains.phase_rad[k] = sim_random_between(&random, 0.0, 2.0 * M_PI);
    }
    if (c->hum > 0.0)
        sim_add_mains(lines, n, c->rate_hz, &mains);
    if (c->tone > 0.0)
        sim_add_tone(lines, n, c->rate_hz, &(struct sim_tone){.frequency_hz = 997.0, .level = c->tone});
    for (size_t i = 0; i < n; i++) {
        double t = (double)i / c->rate_hz - c->on_s;
        x[i] = t < 0.0 ? 0.0 : output(c, t) + lines[i] + 0.5 * c->wander * sin(2.0 * M_PI * c->wander_hz * t + phase);
    }
    sim_add_white(x, n, c->rate_hz, c->noise, &random);
    for (size_t i = 0; i < n; i++)
        x[i] /= FULL_SCALE_V;
    sim_measure(x, n, c->rate_hz, &options, &m);
    judge_capture(scene, &m);
    lds_measurement_free(&m);
    free(x);
    free(lines);
}

static void run(struct scene *scene, const struct course *c)
{
    const struct {
        const char *key;
        double truth;
    } truths[] = {{"dc.thump", fabs(output(c, 0.0))},
                  {"dc.settle", settle_s(c)},
                  {"dc.final", final_v(c)},
                  {"dc.bias_current", final_v(c) / BIAS_OHM},
                  {"dc.tau", c->tau[0]},
                  {"dc.tau.2", c->tau[1]},
                  {"dc.wander", c->wander}};
    for (size_t i = 0; i < scene->rows; i++)
        for (size_t k = 0; k < sizeof truths / sizeof *truths; k++)
            if (strcmp(scene->row[i].key, truths[k].key) == 0)
                judge_truth(scene, truths[k].key, truths[k].truth);
    for (unsigned seed = 1; seed <= CAPTURES; seed++)
        measure_one(scene, c, seed);
}

/* The moment of switching on is known to a millisecond; scatter is less where that is most of the uncertainty. */
#define SETTLE(...) FIGURE("dc.settle", .spread = {0.0, 1.4}, .width = {0.9, 1.2}, __VA_ARGS__)
#define THUMP(...) FIGURE("dc.thump", .spread = {0.0, 1.4}, __VA_ARGS__)
#define FINAL                                                                                                          \
    FIGURE("dc.final", .dof = 7.0, .share = {1.0, 1.0}), FIGURE("dc.bias_current", .dof = 7.0, .share = {1.0, 1.0})
#define TAU(name, ...) FIGURE(name, .dof = 30.0, .share = {0.1, 4.0}, __VA_ARGS__)

static struct judged two_rows[] = {THUMP(.bias = 1e-3), SETTLE(.bias = 2e-3), FINAL, TAU("dc.tau"), TAU("dc.tau.2")};

static void two(struct scene *scene)
{
    run(scene, &(struct course){.rate_hz = 48e3,
                                .seconds = 14.0,
                                .on_s = 1.7,
                                .thump = 1.5,
                                .thump_tau = 0.04,
                                .b = {0.8, 0.15},
                                .tau = {0.7, 4.0},
                                .offset = 0.012,
                                .hum = 0.02,
                                .noise = 2e-6});
}

/* Loud hum and a tone, negative throughout. */
static struct judged hum_rows[] = {THUMP(.bias = 5e-3), SETTLE(.bias = 4e-3), FINAL, TAU("dc.tau")};

static void hum(struct scene *scene)
{
    run(scene, &(struct course){.rate_hz = 8e3,
                                .seconds = 12.0,
                                .on_s = 1.3,
                                .thump = -2.0,
                                .thump_tau = 0.03,
                                .b = {-0.9, 0.0},
                                .tau = {0.9, 0.0},
                                .offset = -0.018,
                                .hum = 1.0,
                                .noise = 2e-5});
}

static struct judged tone_rows[] = {THUMP(.bias = 2e-3), SETTLE(.bias = 2e-3), FINAL, TAU("dc.tau")};

static void tone(struct scene *scene)
{
    run(scene, &(struct course){.rate_hz = 192e3,
                                .seconds = 5.0,
                                .on_s = 0.9,
                                .thump = 1.0,
                                .thump_tau = 0.03,
                                .b = {0.7, 0.0},
                                .tau = {0.5, 0.0},
                                .offset = 0.01,
                                .tone = 0.5,
                                .hum = 0.01,
                                .noise = 2e-6});
}

/* The swing has another phase in each capture, and counts as noise in the mean and in the time constant. */
static struct judged wander_rows[] = {
    FIGURE("dc.wander", .spread = {0.0, 1.4}, .bias = 1e-4, .width = {0.9, 2.0}),
    FIGURE("dc.final", .dof = 7.0, .share = {1.0, 1.0}, .spread = {0.0, 1.4}),
    TAU("dc.tau", .spread = {0.0, 1.4}),
};

static void wander(struct scene *scene)
{
    run(scene, &(struct course){.rate_hz = 8e3,
                                .seconds = 125.0,
                                .on_s = 1.0,
                                .thump = 0.5,
                                .thump_tau = 0.03,
                                .b = {0.6, 0.0},
                                .tau = {2.5, 0.0},
                                .offset = 0.005,
                                .hum = 0.002,
                                .noise = 1e-6,
                                .wander = 2e-3,
                                .wander_hz = 0.23});
}

#define SCENE(name)                                                                                                    \
    {                                                                                                                  \
#name, name##_rows, sizeof name##_rows / sizeof *name##_rows, name                                             \
    }
static struct scene scenes[] = {SCENE(two), SCENE(hum), SCENE(tone), SCENE(wander)};

int main(int argc, char **argv)
{
    return judge_main(argc, argv, scenes, sizeof scenes / sizeof *scenes);
}
