/* Figures of a driven channel: levels, tone, distortion and the noise beside it. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "measure/judge.h"
#include "measure/noise/reference.h"
#include "simulate/measured.h"
#include "simulate/signals.h"
#include "simulate/weighting.h"
#include "spectrum/tail.h"
#include "spectrum/window.h"

/* ---- a tone with harmonics, white noise and one more line ---- */

enum { RATE = 48000, SAMPLES = 2 * RATE, CAPTURES = 48, POINTS = 1024 };
static const double SECONDS = 2.0, LEVEL = 0.3, DENSITY = 1e-6, LOAD = 8.0, DRIFT_DB_PER_MIN = 0.6;
static const double SPUR_HZ = 3217.3, SPUR = 30e-6;
/* All bins, on which the threshold hardly depends; those around a line from which its floor is found. */
enum { SPUR_BINS = 4000, FLOOR_BINS = 2 * (LDS_REFERENCE_REACH - LDS_LOBE_BINS) };
static const struct lds_band BANDS[] = {{20.0, 5e3}, {400.0, 15e3}};
enum { BAND_COUNT = sizeof BANDS / sizeof *BANDS };

/* The residual's uncertainties include the noise of all orders up to 20 kHz, of which five contribute: they are too
 * large by known factors. */
static struct judged driven_rows[] = {
    FIGURE("level.rms"),
    FIGURE("level.peak", .kind = JUDGED_EXACT),
    FIGURE("level.crest"),
    FIGURE("level.headroom", .kind = JUDGED_EXACT),
    FIGURE("tone.frequency"),
    FIGURE("tone.level"),
    FIGURE("tone.power"),
    FIGURE("tone.drift"),
    FIGURE("thd"),
    FIGURE("thd.20-5k"),
    FIGURE("thd.400-15k"),
    FIGURE("thd_n"),
    FIGURE("thd_n.20-5k"),
    FIGURE("thd_n.400-15k"),
    FIGURE("sinad"),
    FIGURE("sinad.20-5k"),
    FIGURE("sinad.400-15k"),
    FIGURE("snr"),
    FIGURE("snr.20-5k"),
    FIGURE("snr.400-15k"),
    FIGURE("residual.peak", .spread = {0.36, 0.65}),
    FIGURE("residual.crest", .spread = {0.24, 0.43}),
    FIGURE("residual.crossing", .spread = {0.21, 0.38}),
    FIGURE("noise.band.20-20k"),
    FIGURE("noise.band.20-5k"),
    FIGURE("noise.band.400-15k"),
    FIGURE("noise.total.20-20k"),
    FIGURE("noise.total.20-5k"),
    FIGURE("noise.total.400-15k"),
    FIGURE("noise.a"),
    FIGURE("noise.itu468"),
    FIGURE("noise.density.1k", .share = {0.45, 0.85}),
    FIGURE("noise.density.10k"),
    FIGURE("noise.slope", .dof = 30.0, .or_infinite = true),
    FIGURE("harmonics.2.level"),
    FIGURE("harmonics.2.relative"),
    FIGURE("harmonics.2.phase", .kind = JUDGED_BARE, .bias = 0.1),
    FIGURE("harmonics.2.frequency", .kind = JUDGED_BARE, .bias = 1e-3),
    FIGURE("spurs.frequency", .kind = JUDGED_BARE, .at_hz = 3217.3, .bias = 0.02),
    FIGURE("spurs.level", .kind = JUDGED_BARE, .at_hz = 3217.3, .bias = 1e-7),
    FIGURE("spurs.margin", .kind = JUDGED_BARE, .at_hz = 3217.3, .bias = 0.1),
};

static double db(double power)
{
    return 10.0 * log10(power);
}

static double white(double frequency_hz, const void *context)
{
    (void)frequency_hz;
    (void)context;
    return DENSITY * DENSITY;
}

/* The sum of the harmonics over one period, at the points that docs/figures.md names. */
static void residual_truth(struct scene *scene, const struct sim_tone *tone)
{
    double peak = 0.0, square = 0.0, crossing = 0.0;
    int near = 0;
    for (int i = 0; i < POINTS; i++) {
        const double degrees = 360.0 * i / POINTS, angle = degrees * M_PI / 180.0;
        double y = 0.0;
        for (int k = 2; k <= tone->orders; k++)
            y += M_SQRT2 * LEVEL * tone->relative[k] * cos(k * angle + tone->relative_rad[k]);
        peak = fmax(peak, fabs(y));
        square += y * y / POINTS;
        if (fabs(fmod(degrees, 180.0) - 90.0) <= 15.0) {
            crossing += y * y;
            near++;
        }
    }
    judge_truth(scene, "residual.peak", peak);
    judge_truth(scene, "residual.crest", db(peak * peak / square));
    judge_truth(scene, "residual.crossing", db(crossing / near / square));
}

/* Figures of one band; "" is the default one. */
static void band_truth(struct scene *scene, const struct sim_tone *tone, double low_hz, double high_hz,
                       const char *suffix, const char *name)
{
    char key[64];
    double harmonics = 0.0;
    for (int k = 2; k <= tone->orders && k * tone->frequency_hz < high_hz; k++)
        harmonics += pow(LEVEL * tone->relative[k], 2.0);
    const double noise = DENSITY * DENSITY * (high_hz - low_hz), rest = harmonics + noise + SPUR * SPUR;
    const double truth[] = {db(harmonics / (LEVEL * LEVEL)), db(rest / (LEVEL * LEVEL + rest)),
                            -db(rest / (LEVEL * LEVEL + rest)), db(LEVEL * LEVEL / noise)};
    static const char *const stem[] = {"thd", "thd_n", "sinad", "snr"};
    for (int i = 0; i < 4; i++) {
        snprintf(key, sizeof key, "%s%s", stem[i], suffix);
        judge_truth(scene, key, truth[i]);
        if (i > 0)
            judge_row(scene, key)->dof = judge_band_dof(SECONDS, low_hz, high_hz, NULL, NULL, NULL);
    }
    for (int i = 0; i < 2; i++) {
        snprintf(key, sizeof key, "noise.%s.%s", i ? "total" : "band", name);
        judge_truth(scene, key, sqrt(noise + (i ? SPUR * SPUR : 0.0)));
        judge_row(scene, key)->dof = judge_band_dof(SECONDS, low_hz, high_hz, NULL, NULL, NULL);
    }
}

static void noise_truth(struct scene *scene)
{
    static const struct {
        const char *key;
        double (*weighting_db)(double);
    } WEIGHTED[] = {{"noise.a", sim_a_weighting_db}, {"noise.itu468", sim_itu468_weighting_db}};
    for (int i = 0; i < 2; i++) {
        const double noise = sim_band_power(20.0, 20e3, white, NULL, WEIGHTED[i].weighting_db);
        judge_truth(scene, WEIGHTED[i].key,
                    sqrt(noise + SPUR * SPUR * pow(10.0, 0.1 * WEIGHTED[i].weighting_db(SPUR_HZ))));
        judge_row(scene, WEIGHTED[i].key)->dof =
            judge_band_dof(SECONDS, 20.0, 20e3, NULL, NULL, WEIGHTED[i].weighting_db);
    }
    const double half = pow(10.0, 0.05);
    for (int i = 0; i < 2; i++) {
        const double middle = i ? 10e3 : 1e3;
        const char *key = i ? "noise.density.10k" : "noise.density.1k";
        judge_truth(scene, key, DENSITY);
        judge_row(scene, key)->dof = judge_band_dof(SECONDS, middle / half, middle * half, NULL, NULL, NULL);
    }
    judge_truth(scene, "noise.slope", 0.0);
}

/* Properties of the samples themselves, and the tone. The rms excludes DC. */
static void level_truth(struct scene *scene, const struct sim_tone *tone, const double *x)
{
    double peak = 0.0, high = -INFINITY, low = INFINITY, mean = 0.0;
    for (size_t i = 0; i < SAMPLES; i++) {
        peak = fmax(peak, fabs(x[i]));
        high = fmax(high, x[i]);
        low = fmin(low, x[i]);
        mean += x[i] / SAMPLES;
    }
    double square = LEVEL * LEVEL + SPUR * SPUR + DENSITY * DENSITY * 0.5 * RATE;
    for (int k = 2; k <= tone->orders; k++)
        square += pow(LEVEL * tone->relative[k], 2.0);
    judge_truth(scene, "level.rms", sqrt(square));
    judge_truth(scene, "level.peak", peak);
    judge_truth(scene, "level.crest", db(pow(fmax(high - mean, mean - low), 2.0) / square));
    judge_truth(scene, "level.headroom", -20.0 * log10(peak));
    judge_truth(scene, "tone.frequency", tone->frequency_hz);
    judge_truth(scene, "tone.level", LEVEL);
    judge_truth(scene, "tone.power", LEVEL * LEVEL / LOAD);
    judge_truth(scene, "tone.drift", tone->drift_db_per_min * SECONDS / 60.0);
    judge_truth(scene, "harmonics.2.level", LEVEL * tone->relative[2]);
    judge_truth(scene, "harmonics.2.relative", 20.0 * log10(tone->relative[2]));
    judge_truth(scene, "harmonics.2.phase", tone->relative_rad[2] * 180.0 / M_PI);
    judge_truth(scene, "harmonics.2.frequency", 2.0 * tone->frequency_hz);
    judge_truth(scene, "spurs.frequency", SPUR_HZ);
    judge_truth(scene, "spurs.level", SPUR);
}

/* The strongest bin of a line relative to the level that any of all bins of noise exceeds with a probability of 1e-3/3;
 * away from the line the bins fall with the window's transform. The noise beneath is the highest of four estimates,
 * which is half a decibel high in white noise (simulated). */
static void margin_truth(struct scene *scene, const struct lds_measurement *m)
{
    const double bin_hz = 1.0 / m->window_s, place = SPUR_HZ / bin_hz;
    const double gain = lds_window_transform(&lds_window_analysis, place - round(place));
    const double enbw_hz = lds_window_enbw(&lds_window_analysis) * bin_hz, noise = DENSITY * DENSITY;
    struct lds_tail tail;
    if (!lds_tail_init(&tail, m->averages, 0.25))
        exit(1);
    /* a median over that many bins around it, twicing (src/measure/noise/reference.c) */
    const double dof = judge_band_dof(SECONDS, 0.0, FLOOR_BINS * bin_hz, NULL, NULL, NULL);
    const double limit = lds_tail_threshold(&tail, 1e-3 / 3.0 / SPUR_BINS, sqrt(M_PI / dof * 5.0 / 3.0));
    judge_truth(scene, "spurs.margin", -0.5 + db((SPUR * SPUR * gain * gain / enbw_hz + noise) / (noise * limit)));
}

static void driven_capture(struct scene *scene, const struct lds_measure_options *options, unsigned seed)
{
    struct sim_random random;
    sim_random_seed(&random, seed);
    double *x = sim_samples(SAMPLES);
    struct sim_tone tone = {.level = LEVEL, .orders = 6, .drift_db_per_min = DRIFT_DB_PER_MIN};
    tone.frequency_hz = sim_random_between(&random, 950.0, 1050.0);
    tone.phase_rad = sim_random_between(&random, -M_PI, M_PI);
    for (int k = 2; k <= tone.orders; k++) {
        tone.relative[k] = 1e-4 * pow(10.0, sim_random_between(&random, -3.0, 3.0) / 20.0);
        tone.relative_rad[k] = sim_random_between(&random, -3.0, 3.0);
    }
    sim_add_tone(x, SAMPLES, RATE, &tone);
    sim_add_white(x, SAMPLES, RATE, DENSITY, &random);
    sim_add_tone(
        x, SAMPLES, RATE,
        &(struct sim_tone){.frequency_hz = SPUR_HZ, .level = SPUR, .phase_rad = 6.0 * sim_random_uniform(&random)});
    level_truth(scene, &tone, x);
    residual_truth(scene, &tone);
    band_truth(scene, &tone, 20.0, 20e3, "", "20-20k");
    band_truth(scene, &tone, 20.0, 5e3, ".20-5k", "20-5k");
    band_truth(scene, &tone, 400.0, 15e3, ".400-15k", "400-15k");
    noise_truth(scene);
    struct lds_measurement m;
    sim_measure(x, SAMPLES, RATE, options, &m);
    margin_truth(scene, &m);
    judge_capture(scene, &m);
    lds_measurement_free(&m);
    free(x);
}

static void driven(struct scene *scene)
{
    struct lds_measure_options options;
    sim_options_init(&options);
    options.bench.load_ohm = LOAD;
    options.mains_hz = 50.0; /* there is no mains: a narrow search is a quick one */
    for (int i = 0; i < BAND_COUNT; i++)
        options.band[options.bands++] = BANDS[i];
    for (unsigned seed = 1; seed <= CAPTURES; seed++)
        driven_capture(scene, &options, seed);
}

int main(int argc, char **argv)
{
    struct scene scenes[] = {
        {"driven", driven_rows, sizeof driven_rows / sizeof *driven_rows, driven},
    };
    return judge_main(argc, argv, scenes, sizeof scenes / sizeof *scenes);
}
