#include "measure/power/power.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "constants.h"
#include "measure/power/crossing.h"
#include "measure/power/slope.h"
#include "measure/statistics/uncertainty.h"
#include "record/record.h"
#include "record/series.h"

static const double BAND_HZ[] = {20.0, 20e3};
static const double CLEAR = 1e4;       /* the gain is taken from plateaus 40 dB above the noise */
static const double SLOPE_CLEAR = 10;  /* an order counts where it is 10 dB above its noise */
static const double CEILING_U = 0.004; /* relative, of the level at which peaks are flattened; from simulations */
enum { LOWEST = 3 };

static const char *const KEYS[] = {"power.at_thd_n.0_1pct", "power.at_thd_n.1pct", "power.at_thd_n.10pct"};
static const double KEY_DB[] = {-60.0, -40.0, -20.0};

struct work {
    struct lds_channel *channel;
    const struct lds_powers *powers;
    size_t count;
    const struct lds_power_point *point; /* in order of power */
    double to_power;                     /* W per mean square, where calibrated */
    double gain_db, gain_u;              /* of the lowest plateaus; NAN: the levels are not known */
    double one_percent_db;               /* 10 log10 of the power at 1 % THD+N as below; NAN: it is not reached */
};

static double mean_square_db(const struct lds_power_point *point)
{
    return lds_power_db(point->plateau.total);
}

/* W, or dBFS (AES17). */
static double power_of(const struct work *w, double mean_square)
{
    return w->channel->calibrated ? w->to_power * mean_square : lds_power_db(2.0 * mean_square);
}

static int by_power(const void *a, const void *b)
{
    const struct lds_power_point *one = a, *other = b;
    return (one->plateau.total > other->plateau.total) - (one->plateau.total < other->plateau.total);
}

/* ---- series ---- */

static bool add_row(struct lds_series *series, const struct work *w, const struct lds_power_point *point,
                    const struct lds_line_level *level)
{
    const double row[] = {power_of(w, point->plateau.total), level->value};
    if (!lds_series_add_row(series, row))
        return false;
    lds_series_set_limits(series, series->rows - 1, LDS_CURVE_Y, level->low, level->high);
    series->flag[series->rows - 1] |= point->flags | (isnan(level->value) ? LDS_FLAG_BELOW_FLOOR : 0u);
    return true;
}

static struct lds_line_level gain_of(const struct work *w, const struct lds_power_point *point)
{
    const double value = lds_power_db(point->plateau.fundamental) - point->level_db - w->gain_db;
    const double u = hypot(10.0 / M_LN10 * point->plateau.fundamental_u / point->plateau.fundamental, w->gain_u);
    const double half = lds_coverage(INFINITY) * u;
    return (struct lds_line_level){value, value - half, value + half, u, INFINITY};
}

/* order: 2 and up; 0: THD; 1: THD+N; -1: gain. */
static struct lds_line_level level_of(const struct work *w, const struct lds_power_point *point, int order)
{
    return order == -1  ? gain_of(w, point)
           : order == 0 ? point->plateau.thd
           : order == 1 ? point->plateau.thd_n
                        : lds_line_sum(&point->plateau.order[order], 1);
}

static bool add_series(const struct work *w, const char *name, int order)
{
    char key[64];
    snprintf(key, sizeof key, "distortion.by_power.%s", name);
    struct lds_series *series = lds_channel_add_series(w->channel, key);
    bool memory = series;
    for (size_t i = 0; memory && i < w->count; i++) {
        const struct lds_line_level level = level_of(w, &w->point[i], order);
        memory = add_row(series, w, &w->point[i], &level);
    }
    return memory;
}

static bool add_all_series(const struct work *w)
{
    const int orders = w->point[0].plateau.orders;
    bool memory = add_series(w, "thd", 0) && add_series(w, "thd_n", 1);
    if (isnan(w->gain_db))
        memory =
            memory && lds_channel_add_absent(w->channel, "distortion.by_power.gain",
                                             "what went in is not known: state the signal that was played (--signal), "
                                             "or which channel recorded the input (--reference-channel)");
    else
        memory = memory && add_series(w, "gain", -1);
    for (int k = 2; memory && k <= orders; k++) {
        char name[16];
        snprintf(name, sizeof name, "order%d", k);
        memory = add_series(w, name, k);
    }
    return memory;
}

/* Mean of the lowest plateaus that are well above the noise. */
static void find_gain(struct work *w)
{
    double sum = 0.0, square = 0.0;
    int n = 0;
    for (size_t i = 0; i < w->count && n < LOWEST; i++) {
        const struct lds_power_point *point = &w->point[i];
        if (isnan(point->level_db) || point->plateau.fundamental < CLEAR * point->plateau.noise)
            continue;
        const double u = 10.0 / M_LN10 * point->plateau.fundamental_u / point->plateau.fundamental;
        sum += lds_power_db(point->plateau.fundamental) - point->level_db;
        square += u * u;
        n++;
    }
    w->gain_db = n > 0 ? sum / n : (double)NAN;
    w->gain_u = n > 0 ? sqrt(square) / n : (double)NAN;
}

/* ---- figures ---- */

/* Conditions, without which a power says little (IEC 60268-3; 16 CFR 432 asks for them in the US). */
static void set_conditions(const struct work *w, struct lds_figure *figure, const char *distortion)
{
    const struct lds_powers *powers = w->powers;
    const struct lds_bench *bench = powers->bench;
    char load[32] = "load not stated", supply[48] = "supply not stated", driven[48] = "channels driven not stated";
    if (isfinite(bench->load_ohm))
        snprintf(load, sizeof load, "into %.4g Ω", bench->load_ohm);
    if (isfinite(bench->supply_v[0]) && isfinite(bench->supply_v[1]))
        snprintf(supply, sizeof supply, "supply %+.4g and %+.4g V", bench->supply_v[0], bench->supply_v[1]);
    else if (isfinite(bench->supply_v[0]))
        snprintf(supply, sizeof supply, "supply %.4g V", bench->supply_v[0]);
    if (powers->channels > 1)
        snprintf(driven, sizeof driven, "%d of %d channels driven", powers->driven, powers->channels);
    snprintf(figure->conditions, sizeof figure->conditions,
             "%s%s, at %.4g Hz only, %.4g Hz to %.4g kHz, %s, held %.2g s, %s", distortion, load,
             w->point[0].plateau.hz, BAND_HZ[0], fmin(BAND_HZ[1], powers->end_hz) / 1e3, driven, powers->held_s,
             supply);
}

/* db: 10 log10 of a mean square in full-scale units, with its limits. */
static bool add_power(const struct work *w, const char *key, const struct lds_crossing *at, unsigned flags,
                      const char *distortion)
{
    struct lds_figure *figure = lds_channel_add(w->channel, key);
    const struct lds_bench *bench = w->powers->bench;
    const double db = 10.0 / M_LN10, calibration = 2.0 * lds_bench_level_u(bench),
                 load = bench->load_percent / 100.0 / sqrt(3.0);
    double limit[3] = {at->value, at->low, at->high};
    for (int i = 0; i < 3; i++)
        limit[i] = power_of(w, pow(10.0, limit[i] / 10.0));
    const double u_db = (at->high - at->low) / (2.0 * LDS_COVERAGE);
    lds_figure_set(figure, limit[0], limit[1], limit[2], w->channel->calibrated ? limit[0] * u_db / db : u_db,
                   INFINITY);
    lds_figure_add_bench(figure, w->channel->calibrated ? limit[0] * hypot(calibration, load) : 0.0);
    figure->flags |= flags;
    figure->band_hz[0] = BAND_HZ[0];
    figure->band_hz[1] = fmin(BAND_HZ[1], w->powers->end_hz);
    if (figure->band_hz[1] < BAND_HZ[1])
        figure->flags |= LDS_FLAG_BAND_CUT;
    set_conditions(w, figure, distortion);
    return true;
}

/* Says where the curve is over the limit, if not from some plateau on. */
static bool add_no_crossing(const struct work *w, const char *key, const char *what, enum lds_crossing_kind kind)
{
    char power[2][32];
    for (int i = 0; i < 2; i++)
        snprintf(power[i], sizeof power[i], "%.3g %s", power_of(w, w->point[i == 0 ? 0 : w->count - 1].plateau.total),
                 lds_key_unit(lds_key_find(key), w->channel->calibrated));
    if (kind == LDS_ALWAYS_OVER)
        return lds_channel_add_absent(w->channel, key, "%s at every level, from %s to %s", what, power[0], power[1]);
    if (kind == LDS_OVER_BELOW)
        return lds_channel_add_absent(w->channel, key, "%s at lower levels, but not at the highest, %s", what,
                                      power[1]);
    return lds_channel_add_absent(w->channel, key, "%s at no level up to %s", what, power[1]);
}

/* Adds the lowest power above which y stays over `over`. y: of each point. */
static bool add_crossing(const struct work *w, const char *key, const struct lds_crossing_point *y, double over,
                         const char *what, double *db)
{
    struct lds_crossing at;
    *db = NAN;
    const enum lds_crossing_kind kind = lds_crossing_find(y, w->count, over, &at);
    if (kind != LDS_CROSSED)
        return add_no_crossing(w, key, what, kind);
    *db = at.value;
    return add_power(w, key, &at, w->point[at.below].flags | w->point[at.below + 1].flags, "");
}

static bool add_powers_at_distortion(struct work *w, struct lds_crossing_point *y)
{
    for (size_t i = 0; i < w->count; i++)
        y[i] = (struct lds_crossing_point){mean_square_db(&w->point[i]), w->point[i].plateau.thd_n.value,
                                           w->point[i].plateau.thd_n.u};
    bool memory = true;
    for (size_t k = 0; memory && k < sizeof KEYS / sizeof *KEYS; k++) {
        char what[48];
        double db;
        snprintf(what, sizeof what, "THD+N is over %g %%", 100.0 * pow(10.0, KEY_DB[k] / 20.0));
        memory = add_crossing(w, KEYS[k], y, KEY_DB[k], what, &db);
        if (KEY_DB[k] == -40.0)
            w->one_percent_db = db;
    }
    return memory;
}

/* THD+N at a power between two plateaus, as text. */
static void write_distortion(const struct work *w, double db, char *text, size_t size)
{
    size_t i = 1;
    while (i + 1 < w->count && mean_square_db(&w->point[i]) < db)
        i++;
    const double x0 = mean_square_db(&w->point[i - 1]), x1 = mean_square_db(&w->point[i]);
    const double y0 = w->point[i - 1].plateau.thd_n.value, y1 = w->point[i].plateau.thd_n.value;
    const double part = x1 > x0 ? fmin(fmax((db - x0) / (x1 - x0), 0.0), 1.0) : 1.0;
    snprintf(text, size, "THD+N %.2g %% there, ", 100.0 * pow(10.0, (y0 + part * (y1 - y0)) / 20.0));
}

static bool add_compression(struct work *w, struct lds_crossing_point *y)
{
    static const char key[] = "power.compression_1db";
    if (isnan(w->gain_db))
        return lds_channel_add_absent(w->channel, key,
                                      "what went in is not known, or no level is 40 dB above the noise");
    size_t n = 0;
    for (size_t i = 0; i < w->count; i++) {
        const struct lds_line_level gain = gain_of(w, &w->point[i]);
        if (!isnan(gain.value))
            y[n++] = (struct lds_crossing_point){mean_square_db(&w->point[i]), -gain.value, gain.u};
    }
    struct lds_crossing at;
    if (n < w->count)
        return lds_channel_add_absent(w->channel, key, "what went in is not known for every level");
    const enum lds_crossing_kind kind = lds_crossing_find(y, n, 1.0, &at);
    if (kind != LDS_CROSSED)
        return add_no_crossing(w, key, "the gain is 1 dB lower", kind);
    char conditions[32];
    write_distortion(w, at.value, conditions, sizeof conditions);
    return add_power(w, key, &at, w->point[at.below].flags | w->point[at.below + 1].flags, conditions);
}

/* The power of the sine whose peaks are as high as the flattened ones, in the lowest level above which peaks stay
 * flattened. */
static bool add_clip(const struct work *w)
{
    size_t first = w->count;
    while (first > 0 && w->point[first - 1].plateau.flattening.found)
        first--;
    if (first == w->count)
        return lds_channel_add_absent(w->channel, "power.clip", "no peaks are flattened at any level up to %.3g %s",
                                      power_of(w, w->point[w->count - 1].plateau.total),
                                      w->channel->calibrated ? "W" : "dBFS");
    const struct lds_plateau *plateau = &w->point[first].plateau;
    const double db = lds_power_db(plateau->fundamental * plateau->flattening.ceiling * plateau->flattening.ceiling);
    const double half = lds_coverage(INFINITY) * 20.0 / M_LN10 * CEILING_U;
    const struct lds_crossing at = {.value = db, .low = db - half, .high = db + half};
    char conditions[32];
    write_distortion(w, db, conditions, sizeof conditions);
    return add_power(w, "power.clip", &at, w->point[first].flags, conditions);
}

/* Growth of an order with the level, below half of the 1 % power (3 dB). */
static bool add_slope(const struct work *w, int order)
{
    char key[32];
    snprintf(key, sizeof key, "slope.order%d", order);
    struct lds_slope_point *point = malloc(w->count * sizeof *point);
    if (!point)
        return false;
    size_t n = 0;
    for (size_t i = 0; i < w->count; i++) {
        const struct lds_plateau *plateau = &w->point[i].plateau;
        const struct lds_line_ratio *ratio = &plateau->order[order];
        const bool low =
            isnan(w->one_percent_db) || mean_square_db(&w->point[i]) < w->one_percent_db - 10.0 * log10(2.0);
        if (plateau->orders < order || !low || plateau->flattening.found || ratio->raw < SLOPE_CLEAR * ratio->noise)
            continue;
        const struct lds_line_level level = lds_line_sum(ratio, 1);
        point[n++] = (struct lds_slope_point){lds_power_db(plateau->fundamental), level.value, level.u};
    }
    struct lds_slope slope;
    bool memory;
    if (lds_slope_fit(point, n, &slope)) {
        struct lds_figure *figure = lds_channel_add(w->channel, key);
        lds_figure_set_normal(figure, slope.value, slope.u, slope.dof);
        memory = true;
    } else {
        memory = lds_channel_add_absent(w->channel, key,
                                        "%zu level%s below half of the 1 %% power show%s it 10 dB above the noise; it "
                                        "takes 3, over 3 dB",
                                        n, n == 1 ? "" : "s", n == 1 ? "s" : "");
    }
    free(point);
    return memory;
}

bool lds_power_figures(struct lds_channel *channel, struct lds_powers *powers)
{
    qsort(powers->point, powers->count, sizeof *powers->point, by_power);
    const double volts = lds_bench_volts_per_unit(powers->bench);
    struct work w = {.channel = channel,
                     .powers = powers,
                     .count = powers->count,
                     .point = powers->point,
                     .to_power = volts * volts / powers->bench->load_ohm};
    if (channel->calibrated && isnan(w.to_power))
        return lds_power_absent(channel, "the bench does not state the load");
    struct lds_crossing_point *y = malloc(w.count * sizeof *y);
    find_gain(&w);
    const bool memory = y && add_all_series(&w) && add_powers_at_distortion(&w, y) && add_clip(&w) &&
                        add_compression(&w, y) && add_slope(&w, 2) && add_slope(&w, 3);
    free(y);
    return memory;
}

bool lds_power_absent(struct lds_channel *channel, const char *why)
{
    return lds_channel_all_absent(channel, why, "distortion.by_power.thd", "power.at_thd_n.0_1pct",
                                  "power.at_thd_n.1pct", "power.at_thd_n.10pct", "power.clip", "power.compression_1db",
                                  "slope.order2", "slope.order3");
}
