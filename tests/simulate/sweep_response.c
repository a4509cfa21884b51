/* Gain and harmonics over frequency from sweeps through amplifiers with corners and distortion chosen at random, at a
 * recorder with a clock of its own, with noise 60 dB below the signal: errors, and how often the intervals hold. The
 * filter is a recursion whose response at a frequency is exact; distortion of memoryless polynomials in closed form. */
#include <complex.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "loadside/series.h"
#include "simulate/measured.h"
#include "simulate/signals.h"

enum { RATE = 48000 };
static const double NOISE_DB = -60.0;

struct amplifier {
    double low_hz; /* of a first-order high-pass behind the distortion */
    double square, cube;
    double ppm, delay_s;
};

static double complex filter(const struct amplifier *a, double hz)
{
    const double complex z = cexp(-I * 2.0 * M_PI * hz / RATE), s = (1.0 - z) / (1.0 + z);
    return s / (s + tan(M_PI * a->low_hz / RATE));
}

static void amplify(const struct amplifier *a, double *x, size_t n)
{
    const double low = tan(M_PI * a->low_hz / RATE);
    double x1 = 0.0, y1 = 0.0;
    for (size_t i = 0; i < n; i++) {
        const double in = x[i] + a->square * x[i] * x[i] + a->cube * x[i] * x[i] * x[i];
        y1 = (in - x1 + (1.0 - low) * y1) / (1.0 + low);
        x1 = in;
        x[i] = 0.5 * y1;
    }
}

static void measure(const struct amplifier *a, struct sim_random *random, double seconds, double peak,
                    struct lds_measurement *m)
{
    struct lds_measure_options options;
    sim_options_init(&options);
    lds_signal_spec_init(&options.known, LDS_SIGNAL_SWEEP);
    options.known.seconds = seconds;
    options.known.level_dbfs = 20.0 * log10(peak);
    options.known.frequency_hz[0] = 10.0;
    options.known.frequency_hz[1] = 20e3;
    if (lds_signal_spec_check(&options.known, NULL) != LDS_OK)
        abort();
    const double ratio = 1.0 + 1e-6 * a->ppm;
    const size_t n = (size_t)((a->delay_s + seconds + 2.0) * RATE);
    double *x = sim_samples(n);
    struct lds_player *player = lds_player_new(&options.known);
    lds_player_render_at(player, -a->delay_s / ratio, 1.0 / (RATE * ratio), n, x);
    lds_player_free(player);
    amplify(a, x, n);
    const double noise = 0.5 * peak * M_SQRT1_2 * pow(10.0, NOISE_DB / 20.0);
    sim_add_white(x, n, RATE, noise / sqrt(0.5 * RATE), random);
    sim_measure(x, n, RATE, &options, m);
    free(x);
}

struct tally {
    int seen, held;
    double worst, squares;
};

static void add(struct tally *tally, struct lds_cell cell, double truth)
{
    const double error = cell.value - truth;
    tally->seen++;
    tally->held += cell.low <= truth && truth <= cell.high;
    tally->worst = fmax(tally->worst, fabs(error));
    tally->squares += error * error;
}

static double db(double ratio)
{
    return 20.0 * log10(ratio);
}

/* A third harmonic of a sin^3 is a quarter, at the amplitude of the fundamental, which it makes larger by three. */
static void add_orders(const struct amplifier *a, const struct lds_channel *channel, double peak, struct tally *tally)
{
    static const char *const key[] = {"distortion.by_frequency.order2", "distortion.by_frequency.order3"};
    const double fundamental = 1.0 + 0.75 * a->cube * peak * peak;
    for (int k = 2; k <= 3; k++) {
        const struct lds_series *series = lds_channel_series(channel, key[k - 2]);
        const double own = k == 2 ? 0.5 * a->square * peak : 0.25 * a->cube * peak * peak;
        for (size_t i = 0; i < series->rows; i += 4) {
            const double hz = lds_series_value(series, i, LDS_CURVE_X);
            if (k * hz < 0.4 * RATE) /* above, the polynomial's own aliases begin */
                add(tally, lds_series_cell(series, i, LDS_CURVE_Y),
                    db(fabs(own) / fundamental * cabs(filter(a, k * hz) / filter(a, hz))));
        }
    }
}

int main(int argc, char **argv)
{
    struct sim_run run;
    struct sim_random random;
    struct tally gain = {0}, orders = {0}, corner = {0};
    double clock = 0.0;
    const double peak = 0.5;
    sim_run_init(&run, argc, argv, "gain and harmonics from sweeps, noise 60 dB below");
    sim_random_seed(&random, run.seed);
    const int captures = run.full ? 200 : 12;
    for (int c = 0; c < captures; c++) {
        struct lds_measurement m;
        const struct amplifier a = {.low_hz = sim_random_log_between(&random, 2.0, 8.0),
                                    .square = 0.004,
                                    .cube = 0.01,
                                    .ppm = sim_random_between(&random, -200.0, 200.0),
                                    .delay_s = sim_random_between(&random, 0.0, 1.0)};
        measure(&a, &random, run.full ? 10.0 : 5.0, peak, &m);
        const struct lds_series *series = lds_channel_series(&m.channel[0], "response.gain");
        for (size_t i = 0; i < series->rows; i += 2) {
            const double hz = lds_series_value(series, i, LDS_CURVE_X);
            if (hz < 0.4 * RATE && fabs(hz - 1000.0) > 1.0)
                add(&gain, lds_series_cell(series, i, LDS_CURVE_Y), db(cabs(filter(&a, hz) / filter(&a, 1000.0))));
        }
        add_orders(&a, &m.channel[0], peak, &orders);
        const struct lds_figure *low = sim_figure(&m, "response.corner.low");
        if (low)
            add(&corner, (struct lds_cell){db(low->value), db(low->low), db(low->high)}, db(a.low_hz));
        clock = fmax(clock, fabs(sim_value(&m, "signal.clock") - a.ppm));
        lds_measurement_free(&m);
    }
    sim_row(&run, "gain from 10 Hz to 0.4 of the rate, largest error", gain.worst, 0.0, 0.02, "dB");
    sim_row(&run, "gain, rms error", sqrt(gain.squares / gain.seen), 0.0, 0.003, "dB");
    sim_row(&run, "gain, intervals that hold", 100.0 * gain.held / gain.seen, run.full ? 93.0 : 88.0, 100.0, "%");
    sim_row(&run, "harmonics 2 and 3, rms error", sqrt(orders.squares / orders.seen), 0.0, run.full ? 0.4 : 0.6, "dB");
    sim_row(&run, "harmonics 2 and 3, intervals that hold", 100.0 * orders.held / orders.seen, run.full ? 92.5 : 90.0,
            100.0, "%");
    sim_row(&run, "low corner below the sweep, largest error", corner.worst, 0.0, 0.3, "dB");
    sim_row(&run, "low corner, intervals that hold", 100.0 * corner.held / corner.seen, 85.0, 100.0, "%");
    sim_row(&run, "clock, largest error", clock, 0.0, 0.5, "ppm");
    return sim_run_end(&run);
}
