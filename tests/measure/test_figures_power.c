/* Figures of a tone that steps in level, as they leave the library, against closed forms: a cubic curve, whose third
 * harmonic is a A^3/4 beside a fundamental of A + 3/4 a A^3 (and a square, b A^2/2), and hard clipping. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "measure/judge.h"
#include "simulate/measured.h"
#include "simulate/signals.h"

enum { RATE = 48000, CAPTURES = 24 };
static const double CUBE = -0.33, SMALL_SQUARE = 2e-3, SMALL_CUBE = 1e-3, CEILING = 0.5, FULL_SCALE_V = 40.0,
                    LOAD_OHM = 8.0;

/* The values are read from straight lines between plateaus, and most of their uncertainty is from that: they scatter
 * less than it says. */
#define POWER(name, ...) FIGURE(name, .spread = {0.0, 1.4}, .width = {0.5, 3.0}, __VA_ARGS__)

static struct judged cubic_rows[] = {
    POWER("power.at_thd_n.0_1pct", .bias = 0.005),
    POWER("power.at_thd_n.1pct", .bias = 0.02),
    POWER("power.at_thd_n.10pct", .bias = 0.3),
    POWER("power.compression_1db", .bias = 0.2),
};
static struct judged slope_rows[] = {
    FIGURE("slope.order2", .bias = 1e-3, .dof = 10.0, .or_infinite = true, .share = {0.01, 1e4}, .spread = {0.3, 1.4}),
    FIGURE("slope.order3", .bias = 3e-3, .dof = 10.0, .or_infinite = true, .share = {0.01, 1e4}, .spread = {0.3, 1.4}),
};
static struct judged clip_rows[] = {POWER("power.clip", .bias = 0.1)};

enum curve { CUBIC, SMOOTH, CLIPPED };

static double curve(enum curve kind, double x)
{
    switch (kind) {
    case CUBIC:
        return x + CUBE * x * x * x;
    case SMOOTH:
        return x + SMALL_SQUARE * x * x + SMALL_CUBE * x * x * x;
    case CLIPPED:
        break;
    }
    return fmax(-CEILING, fmin(CEILING, x));
}

static void measure_one(struct scene *scene, enum curve kind, double noise, unsigned seed)
{
    struct lds_measure_options options;
    struct lds_measurement m;
    struct sim_random random;
    sim_random_seed(&random, seed);
    sim_options_init(&options);
    options.bench.full_scale_v = FULL_SCALE_V;
    options.bench.load_ohm = LOAD_OHM;
    struct lds_signal_spec *spec = &options.known;
    lds_signal_spec_init(spec, LDS_SIGNAL_STAIRCASE);
    spec->frequency_hz[0] = 997.0;
    spec->level_dbfs = -23.0;
    spec->to_dbfs = 0.0;
    spec->step_db = 1.0;
    spec->hold_s = 0.2;
    if (lds_signal_spec_check(spec, NULL) != LDS_OK)
        abort();
    const double delay_s = 0.4 + 0.001 * seed;
    const size_t n = (size_t)((delay_s + spec->seconds + 0.4) * RATE);
    double *x = sim_samples(n);
    struct lds_player *player = lds_player_new(spec);
    lds_player_render_at(player, -delay_s, 1.0 / RATE, n, x);
    lds_player_free(player);
    for (size_t i = 0; i < n; i++)
        x[i] = curve(kind, x[i]);
    sim_add_white(x, n, RATE, noise, &random);
    sim_measure(x, n, RATE, &options, &m);
    judge_capture(scene, &m);
    lds_measurement_free(&m);
    free(x);
}

/* W: of the fundamental and third harmonic of the cubic curve, at an amplitude. */
static double cubic_power(double amplitude)
{
    const double first = amplitude * (1.0 + 0.75 * CUBE * amplitude * amplitude),
                 third = 0.25 * CUBE * amplitude * amplitude * amplitude;
    return 0.5 * (first * first + third * third) * FULL_SCALE_V * FULL_SCALE_V / LOAD_OHM;
}

/* The power at which the third harmonic is this share of everything: q/4 over 1 - 3 q/4, with q = -a A^2. */
static double power_at(double share)
{
    const double ratio = share / sqrt(1.0 - share * share), q = 4.0 * ratio / (1.0 + 3.0 * ratio);
    return cubic_power(sqrt(q / -CUBE));
}

static void cubic(struct scene *scene)
{
    judge_truth(scene, "power.at_thd_n.0_1pct", power_at(0.001));
    judge_truth(scene, "power.at_thd_n.1pct", power_at(0.01));
    judge_truth(scene, "power.at_thd_n.10pct", power_at(0.1));
    judge_truth(scene, "power.compression_1db", cubic_power(sqrt((1.0 - pow(10.0, -1.0 / 20.0)) / 0.75 / -CUBE)));
    for (unsigned seed = 1; seed <= CAPTURES; seed++)
        measure_one(scene, CUBIC, 1e-8, seed);
}

static void smooth(struct scene *scene)
{
    judge_truth(scene, "slope.order2", 1.0);
    judge_truth(scene, "slope.order3", 2.0);
    for (unsigned seed = 1; seed <= CAPTURES; seed++)
        measure_one(scene, SMOOTH, 1e-7, seed);
}

static void clipped(struct scene *scene)
{
    judge_truth(scene, "power.clip", 0.5 * CEILING * CEILING * FULL_SCALE_V * FULL_SCALE_V / LOAD_OHM);
    for (unsigned seed = 1; seed <= CAPTURES; seed++)
        measure_one(scene, CLIPPED, 1e-7, seed);
}

static struct scene scenes[] = {
    {"cubic curve", cubic_rows, sizeof cubic_rows / sizeof *cubic_rows, cubic},
    {"smooth curve", slope_rows, sizeof slope_rows / sizeof *slope_rows, smooth},
    {"hard clipping", clip_rows, sizeof clip_rows / sizeof *clip_rows, clipped},
};

int main(int argc, char **argv)
{
    return judge_main(argc, argv, scenes, sizeof scenes / sizeof *scenes);
}
