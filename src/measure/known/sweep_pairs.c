#include "measure/known/sweep_pairs.h"

#include <math.h>
#include <stdio.h>

#include "measure/pair/pair_scale.h"
#include "measure/statistics/line_sum.h"
#include "measure/statistics/uncertainty.h"
#include "record/record.h"
#include "record/series.h"

static const double REFERENCE_HZ = 1000.0;

struct work {
    const struct lds_asked *asked;
    struct lds_pair *pair;
    size_t of[2]; /* indices of the channels among those asked for */
    const struct lds_sweep_side *side[2];
    bool calibrated[2];
};

static double power(const struct lds_transfer_point *point)
{
    return creal(point->gain * conj(point->gain));
}

static bool scale_at(const struct work *w, double hz, struct lds_pair_scale *scale)
{
    return lds_pair_scale(&w->asked->options->bench, w->pair->channels, w->calibrated, w->asked->info->in_volts, hz,
                          scale);
}

/* The number of points at which both responses are known. */
static size_t points(const struct work *w)
{
    const size_t a = w->side[0]->transfer.count, b = w->side[1]->transfer.count;
    return a < b ? a : b;
}

/* The level of one channel re the other at a point, with its noise power subtracted. */
static struct lds_line_level level_at(const struct work *w, int from, size_t i, const struct lds_pair_scale *scale)
{
    const struct lds_transfer_point *driven = &w->side[from]->transfer.point[i],
                                    *other = &w->side[1 - from]->transfer.point[i];
    const double one = power(driven), sign = from == 0 ? 1.0 : -1.0;
    const struct lds_line_ratio ratio = {power(other) / one, 2.0 * other->u * other->u / one, other->dof};
    struct lds_line_level level = lds_line_sum(&ratio, 1);
    level.value += sign * scale->db;
    level.low += sign * scale->db;
    level.high += sign * scale->db;
    return level;
}

static bool add_row(struct lds_series *series, double hz, const struct lds_line_level *level)
{
    const double row[] = {hz, level->value};
    if (!lds_series_add_row(series, row))
        return false;
    lds_series_set_limits(series, series->rows - 1, LDS_CURVE_Y, level->low, level->high);
    series->flag[series->rows - 1] |= isnan(level->value) ? LDS_FLAG_BELOW_FLOOR : 0u;
    return true;
}

/* from: 0 or 1, the driven one of the pair. */
static bool add_crosstalk(const struct work *w, int from)
{
    char key[64];
    struct lds_pair_scale scale;
    const int a = w->pair->channels[from], b = w->pair->channels[1 - from];
    snprintf(key, sizeof key, "crosstalk.%d-%d", a, b);
    if (!scale_at(w, REFERENCE_HZ, &scale))
        return lds_pair_add_absent(w->pair, key, "%s", LDS_PAIR_UNLIKE);
    struct lds_series *series =
        lds_pair_add_series(w->pair, from == 0 ? "crosstalk.from_first" : "crosstalk.from_second");
    bool memory = series;
    for (size_t i = 0; memory && i < points(w); i++) {
        const double hz = w->side[0]->transfer.point[i].hz;
        scale_at(w, hz, &scale);
        const struct lds_line_level level = level_at(w, from, i, &scale);
        memory = add_row(series, hz, &level);
        if (memory && fabs(hz / REFERENCE_HZ - 1.0) < 1e-6) {
            struct lds_figure *figure = lds_pair_add(w->pair, key, true);
            lds_figure_set(figure, level.value, level.low, level.high, level.u, level.dof);
            figure->flags |= isnan(level.value) ? LDS_FLAG_BELOW_FLOOR : 0u;
            snprintf(figure->conditions, sizeof figure->conditions, "at 1 kHz, from a sweep");
            if (scale.u_db > 0.0)
                lds_figure_add_bench(figure, scale.u_db);
        }
    }
    return memory;
}

static bool add_balance(const struct work *w)
{
    struct lds_pair_scale scale;
    if (!scale_at(w, REFERENCE_HZ, &scale))
        return lds_pair_add_absent(w->pair, "balance", "%s", LDS_PAIR_UNLIKE);
    for (size_t i = 0; i < points(w); i++) {
        const struct lds_transfer_point *a = &w->side[0]->transfer.point[i], *b = &w->side[1]->transfer.point[i];
        if (fabs(a->hz / REFERENCE_HZ - 1.0) > 1e-6)
            continue;
        const double u = 20.0 / M_LN10 * hypot(a->u / cabs(a->gain), b->u / cabs(b->gain));
        struct lds_figure *figure = lds_pair_add(w->pair, "balance", true);
        lds_figure_set_normal(figure, 10.0 * log10(power(b) / power(a)) + scale.db, u, fmin(a->dof, b->dof));
        snprintf(figure->conditions, sizeof figure->conditions, "at 1 kHz, from a sweep");
        if (scale.u_db > 0.0)
            lds_figure_add_bench(figure, scale.u_db);
        return true;
    }
    return lds_pair_add_absent(w->pair, "balance", "the sweep does not hold 1 kHz");
}

static bool add_pair(const struct work *w)
{
    static const char unknown[] = "the sweep was not found whole in a driven channel";
    if (w->side[0]->transfer.count == 0 || w->side[1]->transfer.count == 0)
        return lds_pair_add_absent(w->pair, "balance", unknown) && lds_pair_add_absent(w->pair, "crosstalk", unknown);
    const bool driven[] = {w->side[0]->driven, w->side[1]->driven};
    if (driven[0] && driven[1])
        return add_balance(w) &&
               lds_pair_add_absent(w->pair, "crosstalk", "both channels are driven with the same sweep");
    if (!driven[0] && !driven[1])
        return lds_pair_add_absent(w->pair, "balance", "no channel is driven") &&
               lds_pair_add_absent(w->pair, "crosstalk", "no channel is driven");
    return lds_pair_add_absent(w->pair, "balance", "channel %d is not driven", w->pair->channels[driven[0]]) &&
           add_crosstalk(w, driven[0] ? 0 : 1);
}

bool lds_sweep_pairs(const struct lds_asked *asked, const struct lds_sweep_side *side,
                     struct lds_measurement *measurement)
{
    bool memory = true;
    for (size_t i = 0; memory && i < measurement->pairs; i++) {
        struct work w = {.asked = asked, .pair = &measurement->pair[i]};
        for (int k = 0; k < 2; k++) {
            const size_t c = asked->pair[i][k];
            w.side[k] = &side[c];
            w.calibrated[k] = measurement->channel[c].calibrated;
        }
        memory = add_pair(&w);
        lds_figures_bound(w.pair->figure, w.pair->figures);
    }
    return memory;
}
