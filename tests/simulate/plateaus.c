/* A tone that rises in steps of 1 dB, each held for half a second, some also back down, through amplifiers that clip
 * hard or softly or have a smooth curve, with noise and hum chosen at random: whether every plateau is found without
 * being told of the signal, and the power at which peaks flatten and at which THD+N is 1 %, in closed form or by direct
 * sums. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "loadside/series.h"
#include "simulate/measured.h"
#include "simulate/signals.h"

enum { RATE = 48000, MOST = 64, POINTS = 2048, ORDERS = 20 };
static const double HOLD_S = 0.5, FADE_S = 0.005, FULL_SCALE_V = 40.0, LOAD_OHM = 8.0;

enum kind { HARD, SOFT, SMOOTH };

struct amplifier {
    enum kind kind;
    double ceiling, gain, square, cube;
};

static double amplify(const struct amplifier *a, double x)
{
    const double y = a->gain * x;
    if (a->kind == HARD)
        return fmax(-a->ceiling, fmin(a->ceiling, y));
    if (a->kind == SOFT)
        return y / pow(1.0 + pow(fabs(y / a->ceiling), 6.0), 1.0 / 6.0);
    return y + a->square * y * y + a->cube * y * y * y;
}

/* Amplitudes of the steps; returns how many. */
static int steps(double lowest_db, int up, bool back, double *amplitude)
{
    int count = 0;
    for (int i = 0; i < up; i++)
        amplitude[count++] = pow(10.0, (lowest_db + i) / 20.0);
    for (int i = up - 2; back && i >= 0; i--)
        amplitude[count++] = pow(10.0, (lowest_db + i) / 20.0);
    return count;
}

static double rise(double share)
{
    return share <= 0.0 ? 0.0 : share >= 1.0 ? 1.0 : 0.5 - 0.5 * cos(M_PI * share);
}

static double envelope(double t, const double *amplitude, int count)
{
    const int step = (int)floor(t / HOLD_S);
    if (t < 0.0 || step > count)
        return 0.0;
    const double before = step > 0 ? amplitude[step - 1] : 0.0, here = step < count ? amplitude[step] : 0.0;
    return before + (here - before) * rise((t - step * HOLD_S) / FADE_S);
}

/* Mean square of orders 1 to 20 of a sine through the amplifier, and the share of all but the first. */
static void direct(const struct amplifier *a, double amplitude, double *power, double *thd_n)
{
    double all = 0.0, first = 0.0;
    for (int k = 1; k <= ORDERS; k++) {
        double re = 0.0, im = 0.0;
        for (int i = 0; i < POINTS; i++) {
            const double phase = 2.0 * M_PI * (i + 0.5) / POINTS, y = amplify(a, amplitude * cos(phase));
            re += 2.0 / POINTS * y * cos(k * phase);
            im += 2.0 / POINTS * y * sin(k * phase);
        }
        all += 0.5 * (re * re + im * im);
        first = k == 1 ? all : first;
    }
    *power = all;
    *thd_n = sqrt((all - first) / all);
}

/* Mean square where THD+N is 1 %; NAN: it is not within the steps. */
static double at_one_percent(const struct amplifier *a, double lowest, double highest)
{
    double power, thd_n;
    direct(a, highest, &power, &thd_n);
    if (thd_n < 0.01)
        return NAN;
    for (int i = 0; i < 30; i++) {
        const double middle = sqrt(lowest * highest);
        direct(a, middle, &power, &thd_n);
        *(thd_n < 0.01 ? &lowest : &highest) = middle;
    }
    return power;
}

struct tally {
    int captures, missed, clips, clips_held, percents, percents_held;
    double clip_worst_db;
};

static void judge(const struct lds_measurement *m, const struct amplifier *a, int count, double one_percent,
                  unsigned capture, struct tally *tally)
{
    const struct lds_series *series = lds_channel_series(&m->channel[0], "distortion.by_power.thd_n");
    const double to_watts = FULL_SCALE_V * FULL_SCALE_V / LOAD_OHM;
    tally->captures++;
    if (series->rows != (size_t)count) {
        tally->missed++;
        printf("capture %u: %zu plateaus, %d were played\n", capture, series->rows, count);
    }
    const struct lds_figure *clip = sim_figure(m, "power.clip"), *percent = sim_figure(m, "power.at_thd_n.1pct");
    if (clip && a->kind == HARD) {
        const double truth = 0.5 * a->ceiling * a->ceiling * to_watts;
        tally->clips++;
        tally->clips_held += clip->low <= truth && truth <= clip->high;
        tally->clip_worst_db = fmax(tally->clip_worst_db, fabs(10.0 * log10(clip->value / truth)));
    }
    if (percent && a->kind != SMOOTH && !isnan(one_percent)) {
        tally->percents++;
        tally->percents_held += percent->low <= one_percent * to_watts && one_percent * to_watts <= percent->high;
    }
}

static void run_one(struct sim_random *random, unsigned capture, struct tally *tally)
{
    static const double tones[] = {440.0, 997.0, 1000.0, 1000.3, 3150.0, 6300.0};
    struct lds_measure_options options;
    struct lds_measurement m;
    double amplitude[MOST];
    struct amplifier a = {.kind = (enum kind)(int)sim_random_between(random, 0.0, 2.999),
                          .ceiling = sim_random_between(random, 0.4, 0.9),
                          .gain = sim_random_between(random, 0.7, 1.6),
                          .square = sim_random_between(random, -0.01, 0.01),
                          .cube = sim_random_between(random, -0.01, 0.01)};
    const double hz = tones[(int)sim_random_between(random, 0.0, 5.999)];
    const double lowest_db = sim_random_between(random, -26.0, -16.0), delay_s = sim_random_between(random, 0.2, 0.9);
    const int up = (int)-lowest_db + 1;
    const int count = steps(lowest_db, up, sim_random_between(random, 0.0, 1.0) > 0.7, amplitude);
    const double noise_db = sim_random_between(random, -100.0, -75.0), hum = sim_random_log_between(random, 1e-5, 1e-3);
    const size_t n = (size_t)((delay_s + count * HOLD_S + 0.5) * RATE);
    double *x = sim_samples(n), most = 0.0;
    for (size_t i = 0; i < n; i++) {
        const double t = (double)i / RATE - delay_s;
        x[i] = amplify(&a, envelope(t, amplitude, count) * sin(2.0 * M_PI * hz * t));
        most = fmax(most, fabs(x[i]));
        x[i] += hum * sin(2.0 * M_PI * 50.01 * t);
    }
    sim_add_white(x, n, RATE, pow(10.0, noise_db / 20.0) / sqrt(0.5 * RATE), random);
    if (most > 0.98) { /* the recording itself must not clip */
        for (size_t i = 0; i < n; i++)
            x[i] *= 0.98 / most;
    }
    sim_options_init(&options);
    options.bench.full_scale_v = FULL_SCALE_V * fmax(1.0, most / 0.98);
    options.bench.load_ohm = LOAD_OHM;
    sim_measure(x, n, RATE, &options, &m);
    judge(&m, &a, count, hz < 1001.0 ? at_one_percent(&a, amplitude[0], amplitude[up - 1]) : (double)NAN, capture,
          tally);
    lds_measurement_free(&m);
    free(x);
}

int main(int argc, char **argv)
{
    struct sim_run run;
    struct sim_random random;
    struct tally tally = {0};
    sim_run_init(&run, argc, argv, "steps of 1 dB, 0.5 s each, found without their sidecar");
    sim_random_seed(&random, run.seed);
    const unsigned captures = run.full ? 1000 : 30;
    for (unsigned i = 0; i < captures; i++)
        run_one(&random, i, &tally);
    sim_row(&run, "captures with a plateau missed or added", tally.missed, 0.0, 0.0, "");
    sim_row(&run, "power where peaks flatten, hard clipping, largest error", tally.clip_worst_db, 0.0, 0.1, "dB");
    sim_row(&run, "power where peaks flatten, intervals that hold", 100.0 * tally.clips_held / tally.clips, 93.0, 100.0,
            "%");
    sim_row(&run, "power at THD+N 1 %, intervals that hold", 100.0 * tally.percents_held / tally.percents,
            run.full ? 93.0 : 80.0, 100.0, "%");
    return sim_run_end(&run);
}
