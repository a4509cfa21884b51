#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "compare/axis.h"
#include "compare/floor_over.h"
#include "constants.h"
#include "measure/statistics/interval.h"

static const struct lds_series *series_of(const struct lds_axis *axis, const struct lds_seen *seen)
{
    return lds_channel_series(seen->channel, axis->kind->key);
}

/* ---- which captures ---- */

/* All captures of either side that have the series. false: no memory. */
static bool choose_with_series(const struct lds_axis *axis, struct lds_chosen *chosen)
{
    const struct lds_view *view = &axis->part->view;
    *chosen = (struct lds_chosen){0};
    for (int s = 0; s < 2; s++) {
        chosen->seen[s] = calloc((size_t)view->count[s] + 1, sizeof(struct lds_seen *));
        chosen->figure[s] = calloc((size_t)view->count[s] + 1, sizeof(struct lds_figure *));
        if (!chosen->seen[s] || !chosen->figure[s])
            return false;
        for (int i = 0; i < view->count[s]; i++) {
            const struct lds_seen *seen = &view->seen[s][i];
            const struct lds_figure *level = lds_seen_figure(seen, "level.rms");
            if (!level || series_of(axis, seen)->rows < 2)
                continue;
            chosen->figure[s][chosen->count[s]] = level;
            chosen->seen[s][chosen->count[s]++] = seen;
        }
    }
    return true;
}

/* Why the series is not compared, into reason; false when it is. */
static bool is_not_compared(const struct lds_axis *axis, const struct lds_chosen *chosen, char reason[256])
{
    bool before = chosen->count[0] > 0, after = chosen->count[1] > 0;
    if (before && after)
        return lds_not_comparable(&axis->part->view, chosen, "level.rms", lds_key_find("level.rms"), reason);
    snprintf(reason, 256, "not among the series %s", before ? "after" : "before");
    return true;
}

/* Whether there is something to compare. The noise floor follows the rules of the noise in a band; of others it is said
 * why they are not compared. *ok: memory did not run out. */
static bool choose(const struct lds_axis *axis, struct lds_chosen *chosen, bool *ok)
{
    const struct lds_key *row = lds_key_find("noise.band");
    struct lds_compared_channel *out = axis->part->out;
    char reason[256];
    if (axis->kind->match == LDS_MATCH_BANDS) {
        *ok = lds_choose(&axis->part->view, "level.rms", row, chosen);
        return *ok && !lds_not_comparable(&axis->part->view, chosen, "level.rms", row, reason);
    }
    *ok = choose_with_series(axis, chosen);
    if (!*ok || chosen->count[0] + chosen->count[1] == 0)
        return false;
    if (!is_not_compared(axis, chosen, reason))
        return true;
    *ok = lds_add_absent(&out->not_compared_why, &out->not_compared, axis->kind->key, reason);
    return false;
}

/* ---- bands and points ---- */

/* The one with the widest bands, or the fewest points, which others can be brought to. */
static const struct lds_series *coarsest(const struct lds_axis *axis, const struct lds_chosen *chosen)
{
    const struct lds_series *coarsest = series_of(axis, chosen->seen[0][0]);
    for (int s = 0; s < 2; s++)
        for (int i = 0; i < chosen->count[s]; i++) {
            const struct lds_series *one = series_of(axis, chosen->seen[s][i]);
            if (one->rows == 0 || coarsest->rows == 0)
                continue;
            bool coarser = axis->kind->match == LDS_MATCH_BANDS ? lds_series_value(one, 0, LDS_FLOOR_HIGH_HZ) >
                                                                      lds_series_value(coarsest, 0, LDS_FLOOR_HIGH_HZ)
                                                                : one->rows < coarsest->rows;
            if (coarser)
                coarsest = one;
        }
    return coarsest;
}

/* var ln P of a chi-square power is 2/nu to first order. */
static bool read_power(const struct lds_series *floor, const struct lds_band *band, struct lds_reading *reading)
{
    double mean, dof;
    if (!lds_floor_over(floor, band->from, band->to, &mean, &dof))
        return false;
    *reading = (struct lds_reading){.value = 20.0 * log10(mean), .limit = NAN, .dof = INFINITY};
    reading->u = 10.0 / M_LN10 * sqrt(2.0 / dof);
    reading->below = 10.0 * log10(lds_chi_square_quantile(0.975, dof));
    reading->above = -10.0 * log10(lds_chi_square_quantile(0.025, dof));
    return true;
}

static double on_scale(const struct lds_series *series, const char *unit, double value)
{
    enum lds_quantity quantity = series->kind->column[series->kind->value].quantity;
    return strcmp(unit, "dB") == 0 && quantity != LDS_QUANTITY_DB ? 20.0 * log10(value) : value;
}

/* Where a value is below the floor, or not covered, nothing is compared. */
static bool read_point(const struct lds_series *series, const struct lds_band *band, struct lds_reading *reading)
{
    const char *unit = lds_series_change_unit(series->kind);
    struct lds_cell cell = lds_series_at(series, band->x);
    double value = on_scale(series, unit, cell.value);
    double below = value - on_scale(series, unit, cell.low), above = on_scale(series, unit, cell.high) - value;
    *reading = (struct lds_reading){.value = value, .limit = NAN, .dof = INFINITY};
    reading->below = isfinite(below) ? below : (double)INFINITY;
    reading->above = isfinite(above) ? above : (double)INFINITY;
    reading->u = 0.5 * (reading->below + reading->above) / LDS_COVERAGE;
    return isfinite(value);
}

static bool read_band(const struct lds_axis *axis, const struct lds_chosen *chosen, const struct lds_series *from,
                      size_t row, struct lds_band *band)
{
    struct lds_reading *reading = band->reading;
    bool bands = axis->kind->match == LDS_MATCH_BANDS, read = true;
    band->x = lds_series_value(from, row, axis->kind->axis);
    band->from = bands ? lds_series_value(from, row, LDS_FLOOR_LOW_HZ) : band->x;
    band->to = bands ? lds_series_value(from, row, LDS_FLOOR_HIGH_HZ) : band->x;
    if (bands)
        band->x = sqrt(band->from * band->to);
    for (int s = 0; s < 2; s++)
        for (int i = 0; read && i < chosen->count[s]; i++, reading++) {
            const struct lds_series *series = series_of(axis, chosen->seen[s][i]);
            read = bands ? read_power(series, band, reading) : read_point(series, band, reading);
        }
    return read;
}

static bool make_room(struct lds_axis *axis, const struct lds_chosen *chosen, size_t bands)
{
    axis->count[0] = chosen->count[0];
    axis->count[1] = chosen->count[1];
    axis->band = calloc(bands + 1, sizeof *axis->band);
    axis->reading = calloc((bands + 1) * (size_t)(axis->count[0] + axis->count[1]), sizeof *axis->reading);
    return axis->band && axis->reading;
}

/* What repeats tell, or what is declared, of the family; and what matters in it, where it is judged in dB. */
static void set_rules(const struct lds_work *work, struct lds_axis *axis)
{
    enum lds_family family = axis->kind->family;
    axis->from_repeats =
        isnan(work->scatter.family_db[family]) && axis->count[0] >= LDS_REPEATS && axis->count[1] >= LDS_REPEATS;
    axis->u_rep_db = work->scatter.declared_db[family];
    axis->matters = lds_matters_of_family(work->options, family);
    if (strcmp(lds_series_change_unit(axis->kind), "dB") != 0)
        axis->matters = NAN;
}

bool lds_axis_read(struct lds_work *work, struct lds_axis *axis)
{
    struct lds_chosen chosen;
    bool ok;
    if (choose(axis, &chosen, &ok)) {
        const struct lds_series *first = coarsest(axis, &chosen);
        ok = make_room(axis, &chosen, first->rows);
        set_rules(work, axis);
        for (size_t i = 0; ok && i < first->rows; i++) {
            struct lds_band *band = &axis->band[axis->bands];
            band->reading = axis->reading + axis->bands * (size_t)(axis->count[0] + axis->count[1]);
            axis->bands += read_band(axis, &chosen, first, i, band);
        }
    }
    lds_chosen_free(&chosen);
    return ok;
}

void lds_axis_free(struct lds_axis *axis)
{
    free(axis->band);
    free(axis->reading);
}
