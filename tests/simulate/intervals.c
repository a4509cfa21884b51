/* Do the 95 % intervals hold the truth 95 % of the time? Seeded captures with random tone frequency, phases and levels,
 * mains at a random frequency, and white or 1/f noise: the share of intervals that hold the truth must be 93.6..96.4 %,
 * which is what 1000 captures of a true 95 % give in 19 runs of 20. The full form takes 4000 of each kind, so the
 * limits are two standard errors wider than chance. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "loadside/series.h"
#include "simulate/measured.h"
#include "simulate/signals.h"
#include "simulate/weighting.h"

enum { RATE = 48000, MAINS_ORDERS = 5 };

struct setting {
    const char *name;
    double corner_hz;
    double seconds;
    bool tone, mains;
};

struct truth {
    double level, thd_db, thd_n_db, band, weighted;
};

enum { THD, THD_N, LEVEL, BAND, WEIGHTED, LINES, FIGURES };
static const char *const keys[FIGURES] = {"thd", "thd_n", "tone.level", "noise.band.20-20k", "noise.a", "mains lines"};

static void random_tone(struct sim_tone *tone, struct sim_random *random)
{
    *tone = (struct sim_tone){.level = 0.3, .orders = 5};
    tone->frequency_hz = sim_random_log_between(random, 400.0, 2500.0);
    tone->phase_rad = sim_random_between(random, -M_PI, M_PI);
    for (int k = 2; k <= 5; k++) {
        tone->relative[k] = pow(10.0, sim_random_between(random, -105.0, -85.0) / 20.0);
        tone->relative_rad[k] = sim_random_between(random, -M_PI, M_PI);
    }
}

/* Orders 1, 2, 3 and 5, each 15 to 35 dB above the noise of its own estimate, S/T. */
static void random_mains(struct sim_mains *mains, const struct sim_flicker *noise, double seconds,
                         struct sim_random *random)
{
    *mains = (struct sim_mains){.orders = MAINS_ORDERS};
    mains->frequency_hz = sim_random_between(random, 49.9, 50.1);
    for (int k = 1; k <= MAINS_ORDERS; k++) {
        const double line_noise = sqrt(sim_flicker_density(k * mains->frequency_hz, noise) / seconds);
        mains->level[k] = k == 4 ? 0.0 : line_noise * pow(10.0, sim_random_between(random, 15.0, 35.0) / 20.0);
        mains->phase_rad[k] = sim_random_between(random, -M_PI, M_PI);
    }
}

static void find_truth(struct truth *truth, const struct setting *setting, const struct sim_tone *tone,
                       const struct sim_mains *mains, double band_power, double weighted_power)
{
    double hum = 0.0, weighted_hum = 0.0;
    for (int k = 1; setting->mains && k <= mains->orders; k++) {
        const double power = mains->level[k] * mains->level[k];
        hum += power;
        weighted_hum += power * pow(10.0, sim_a_weighting_db(k * mains->frequency_hz) / 10.0);
    }
    truth->level = tone->level;
    truth->thd_db = sim_tone_thd_db(tone, tone->orders);
    const double fundamental = tone->level * tone->level;
    const double rest = fundamental * pow(10.0, truth->thd_db / 10.0) + band_power + hum;
    truth->thd_n_db = 10.0 * log10(rest / (fundamental + rest));
    truth->band = sqrt(band_power);
    truth->weighted = sqrt(weighted_power + weighted_hum);
}

static void cover_lines(struct sim_cover *cover, const struct lds_channel *channel, const struct sim_mains *mains)
{
    bool seen[MAINS_ORDERS + 1] = {false};
    const struct lds_series *lines = lds_channel_series(channel, "mains");
    for (size_t i = 0; i < lines->rows; i++) {
        const int order = (int)lds_series_value(lines, i, LDS_LINE_ORDER);
        const struct lds_cell level = lds_series_cell(lines, i, LDS_LINE_LEVEL);
        if (order < 1 || order > mains->orders || mains->level[order] == 0.0)
            continue;
        seen[order] = true;
        const struct lds_figure figure = {
            .value = level.value, .low = level.low, .high = level.high, .u_a = (level.high - level.low) / 3.92};
        sim_cover_add(cover, &figure, mains->level[order]);
    }
    for (int k = 1; k <= mains->orders; k++)
        cover->missing += mains->level[k] > 0.0 && !seen[k];
}

static void one_capture(const struct setting *setting, struct sim_colour *colour, const struct sim_flicker *noise,
                        const double power[2], struct sim_random *random, struct sim_cover cover[FIGURES])
{
    const size_t n = (size_t)(RATE * setting->seconds);
    double *x = sim_samples(n);
    struct sim_tone tone = {0};
    struct sim_mains mains = {0};
    if (setting->tone) {
        random_tone(&tone, random);
        sim_add_tone(x, n, RATE, &tone);
    }
    if (setting->mains) {
        random_mains(&mains, noise, setting->seconds, random);
        sim_add_mains(x, n, RATE, &mains);
    }
    sim_colour_add(colour, x, random);
    struct truth truth;
    find_truth(&truth, setting, &tone, &mains, power[0], power[1]);
    struct lds_measure_options options;
    sim_options_init(&options);
    options.mains_hz = 50.0;
    struct lds_measurement measurement;
    sim_measure(x, n, RATE, &options, &measurement);
    if (setting->tone) {
        sim_cover_add(&cover[THD], sim_figure(&measurement, "thd"), truth.thd_db);
        sim_cover_add(&cover[THD_N], sim_figure(&measurement, "thd_n"), truth.thd_n_db);
        sim_cover_add(&cover[LEVEL], sim_figure(&measurement, "tone.level"), truth.level);
    }
    sim_cover_add(&cover[BAND], sim_figure(&measurement, "noise.band.20-20k"), truth.band);
    sim_cover_add(&cover[WEIGHTED], sim_figure(&measurement, "noise.a"), truth.weighted);
    if (setting->mains)
        cover_lines(&cover[LINES], &measurement.channel[0], &mains);
    lds_measurement_free(&measurement);
    free(x);
}

static void intervals(struct sim_run *run, struct sim_random *random, const struct setting *setting, int captures)
{
    /* 20 kHz of noise 95 dB below the tone. */
    const struct sim_flicker noise = {.power = pow(0.3 * pow(10.0, -95.0 / 20.0), 2.0) / 2e4,
                                      .corner_hz = setting->corner_hz};
    const size_t n = (size_t)(RATE * setting->seconds);
    struct sim_colour *colour = sim_colour_new(n, RATE, sim_flicker_density, &noise);
    const double power[2] = {
        sim_band_power(20.0, 20000.0, sim_flicker_density, &noise, NULL),
        sim_band_power(20.0, 20000.0, sim_flicker_density, &noise, sim_a_weighting_db),
    };
    struct sim_cover cover[FIGURES] = {0};
    for (int c = 0; c < captures; c++)
        one_capture(setting, colour, &noise, power, random, cover);
    sim_colour_free(colour);
    for (int i = 0; i < FIGURES; i++) {
        const int lines = i == LINES ? MAINS_ORDERS - 1 : 1;
        if (cover[i].seen + cover[i].missing == 0)
            continue;
        /* The reduced form adds three standard errors of a share near 0.95. */
        const double slack = run->full ? 0.0 : 300.0 * sqrt(0.95 * 0.05 / (captures * lines));
        char what[96];
        snprintf(what, sizeof what, "%s, %g s: %s (mean %+.2f, sd %.2f of u)", setting->name, setting->seconds, keys[i],
                 cover[i].error.mean, sim_moments_sd(&cover[i].error));
        const double share = cover[i].missing > 0 ? NAN : 100.0 * cover[i].held / cover[i].seen;
        sim_row(run, what, share, 93.6 - slack, fmin(96.4 + slack, 100.0), "%");
        if (cover[i].missing > 0)
            printf("       absent %d times, present %d\n", cover[i].missing, cover[i].seen);
    }
}

int main(int argc, char **argv)
{
    static const struct setting settings[] = {
        {"white, tone", 0.0, 2.0, true, true},    {"1/f, tone", 1000.0, 2.0, true, true},
        {"white, idle", 0.0, 2.0, false, true},   {"1/f, idle", 1000.0, 2.0, false, true},
        {"white, no hum", 0.0, 1.0, true, false}, {"1/f, no hum", 1000.0, 1.0, true, false},
        {"white, tone", 0.0, 4.0, true, true},    {"1/f, tone", 1000.0, 4.0, true, true},
    };
    struct sim_run run;
    struct sim_random random;
    sim_run_init(&run, argc, argv, "how often 95 % intervals hold the truth");
    sim_random_seed(&random, run.seed);
    const size_t count = run.full ? sizeof settings / sizeof settings[0] : 3;
    for (size_t i = 0; i < count; i++)
        intervals(&run, &random, &settings[i], run.full ? 4000 : 150);
    return sim_run_end(&run);
}
