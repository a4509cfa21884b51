/* Figures of stated signals, as they leave the library: a sweep and noise through filters of known response, a clock of
 * another rate, distortion of known order and noise. The filters are recursions whose response at a frequency is exact.
 */
#include <complex.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "measure/judge.h"
#include "simulate/measured.h"
#include "simulate/signals.h"

enum { RATE = 48000, CAPTURES = 40 };
static const double LOW_HZ = 14.0, HIGH_HZ = 15e3, PPM = 61.0, DELAY_S = 0.3712345;
static const double GAIN = 0.4, SQUARE = 2e-3, PLAY_V = 2.0, FULL_SCALE_V = 20.0;

/* A high-pass and a low-pass of first order by the bilinear transform; s = (1 - 1/z)/(1 + 1/z) tan(pi f/rate)^-1. */
static double complex filter(double hz)
{
    const double complex z = cexp(-I * 2.0 * M_PI * hz / RATE), s = (1.0 - z) / (1.0 + z);
    const double low = tan(M_PI * LOW_HZ / RATE), high = tan(M_PI * HIGH_HZ / RATE);
    return s / (s + low) / (1.0 + s / high);
}

static void run_filter(double *x, size_t n)
{
    const double low = tan(M_PI * LOW_HZ / RATE), high = tan(M_PI * HIGH_HZ / RATE);
    double x1 = 0.0, y1 = 0.0, w1 = 0.0;
    for (size_t i = 0; i < n; i++) {
        const double y = (x[i] - x1 + (1.0 - low) * y1) / (1.0 + low);
        const double w = (high * (y + y1) + (1.0 - high) * w1) / (1.0 + high);
        x1 = x[i];
        y1 = y;
        w1 = w;
        x[i] = w;
    }
}

static double decibels(double ratio)
{
    return 20.0 * log10(ratio);
}

static double relative_db(double hz)
{
    return decibels(cabs(filter(hz)) / cabs(filter(1000.0)));
}

/* Where the response re 1 kHz is -3.01 dB, between two frequencies. */
static double corner(double inside, double outside)
{
    for (int i = 0; i < 60; i++) {
        const double middle = sqrt(inside * outside);
        if (relative_db(middle) > decibels(M_SQRT1_2))
            inside = middle;
        else
            outside = middle;
    }
    return inside;
}

static double ripple(void)
{
    double most = -INFINITY, least = INFINITY;
    for (double hz = 20.0; hz <= 20e3; hz *= 1.002) {
        most = fmax(most, relative_db(hz));
        least = fmin(least, relative_db(hz));
    }
    return most - fmin(least, relative_db(20e3));
}

/* Most of their uncertainty is what the method itself leaves, or what filters do to the phase, so they scatter less
 * than it; degrees of freedom are those of the fit around each frequency. */
#define KNOWN(name, ...)                                                                                               \
    FIGURE(name, .dof = 100.0, .or_infinite = true, .share = {0.05, 1e4}, .spread = {0.0, 1.4}, __VA_ARGS__)

static struct judged sweep_rows[] = {
    KNOWN("signal.clock", .bias = 0.5) /* what a low-pass at 15 kHz, which is not flat, leaves */,
    KNOWN("signal.delay", .bias = 4e-6),
    KNOWN("response.at.20", .bias = 1e-3),
    KNOWN("response.at.10k", .bias = 1e-3),
    KNOWN("response.corner.low", .bias = 0.01),
    KNOWN("response.corner.high", .bias = 3.0),
    KNOWN("response.ripple.20-20k", .bias = 4e-3, .width = {0.5, 3.0}),
    KNOWN("gain", .bias = 1e-3),
    KNOWN("thd.at.1k", .bias = 0.03, .width = {0.5, 1.5}),
};

static void measure_one(struct scene *scene, enum lds_signal_kind kind, unsigned seed)
{
    struct lds_measure_options options;
    struct lds_measurement m;
    struct sim_random random;
    sim_random_seed(&random, seed);
    sim_options_init(&options);
    options.bench.full_scale_v = FULL_SCALE_V;
    options.bench.play_full_scale_v = PLAY_V;
    lds_signal_spec_init(&options.known, kind);
    options.known.seconds = 4.0;
    options.known.frequency_hz[0] = 5.0;
    options.known.frequency_hz[1] = 21e3;
    if (lds_signal_spec_check(&options.known, NULL) != LDS_OK)
        abort();
    const double ratio = 1.0 + 1e-6 * PPM, sign = seed % 2 ? 1.0 : -1.0;
    const size_t n = (size_t)((DELAY_S + 4.0 * ratio + 1.5) * RATE);
    double *x = sim_samples(n);
    struct lds_player *player = lds_player_new(&options.known);
    lds_player_render_at(player, -DELAY_S / ratio, 1.0 / (RATE * ratio), n, x);
    lds_player_free(player);
    for (size_t i = 0; i < n; i++)
        x[i] = sign * GAIN * (x[i] + SQUARE * x[i] * x[i]);
    run_filter(x, n);
    sim_add_white(x, n, RATE, 1e-6, &random);
    sim_measure(x, n, RATE, &options, &m);
    judge_capture(scene, &m);
    lds_measurement_free(&m);
    free(x);
}

static void sweep(struct scene *scene)
{
    const double peak = pow(10.0, -3.0 / 20.0);
    judge_truth(scene, "signal.clock", PPM);
    /* group delay of the low-pass far below its corner; that of the high-pass is none above 1 kHz */
    judge_truth(scene, "signal.delay", DELAY_S + 1.0 / (2.0 * M_PI * HIGH_HZ));
    judge_truth(scene, "response.at.20", relative_db(20.0));
    judge_truth(scene, "response.at.10k", relative_db(10e3));
    judge_truth(scene, "response.corner.low", corner(1000.0, 2.0));
    judge_truth(scene, "response.corner.high", corner(1000.0, 23e3));
    judge_truth(scene, "response.ripple.20-20k", ripple());
    judge_truth(scene, "gain", decibels(GAIN * cabs(filter(1000.0)) * FULL_SCALE_V / PLAY_V));
    /* sin^2 = (1 - cos 2)/2: half the square's coefficient, through the filter at 2 kHz */
    judge_truth(scene, "thd.at.1k", decibels(0.5 * SQUARE * peak * cabs(filter(2000.0)) / cabs(filter(1000.0))));
    for (unsigned seed = 1; seed <= CAPTURES; seed++)
        measure_one(scene, LDS_SIGNAL_SWEEP, seed);
}

static struct scene scenes[] = {
    {"sweep", sweep_rows, sizeof sweep_rows / sizeof *sweep_rows, sweep},
};

int main(int argc, char **argv)
{
    return judge_main(argc, argv, scenes, sizeof scenes / sizeof *scenes);
}
