#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "compare/axis.h"
#include "compare/floor_over.h"
#include "measure/statistics/interval.h"
#include "record/record.h"

static const double EDGE_SAME = 1e-6; /* relative */

static const struct lds_series *series_of(const struct lds_axis *axis, const struct lds_seen *seen)
{
    return lds_seen_series(seen, axis->kind);
}

/* ---- which captures ---- */

/* All captures of either side that have the series. false: no memory. */
static bool choose_with_series(const struct lds_axis *axis, struct lds_chosen *chosen)
{
    bool ok = lds_chosen_room(chosen, axis->view);
    for (int i = 0; ok && i < axis->view->all; i++)
        if (series_of(axis, &axis->view->seen[i])->rows > 1)
            lds_chosen_add(chosen, &axis->view->seen[i], NULL);
    return ok;
}

/* Whether these captures cannot be compared in one channel, by the rules for its level; the cause goes into reason. */
static bool channel_differs(const struct lds_view *channel, const struct lds_chosen *chosen, bool *ok, char reason[256])
{
    const struct lds_key *row = lds_key_row(LDS_FIGURE_RMS);
    struct lds_chosen own;
    *ok = lds_chosen_room(&own, channel);
    for (int i = 0; *ok && i < channel->all; i++) {
        const struct lds_figure *level = lds_seen_figure(&channel->seen[i], row->stem);
        for (int k = 0; level && k < chosen->all; k++)
            if (channel->seen[i].capture == chosen->seen[k]->capture)
                lds_chosen_add(&own, &channel->seen[i], level);
    }
    bool differs = *ok && lds_not_comparable(channel, &own, row->stem, row, reason);
    lds_chosen_free(&own);
    return differs;
}

/* Whether there is something to compare. The noise floor follows the rules for the noise in a band; for other series
 * the reason is reported if not. *ok: memory did not run out. */
static bool choose(const struct lds_axis *axis, struct lds_chosen *chosen, bool *ok)
{
    const struct lds_key *row = lds_key_row(LDS_FIGURE_NOISE);
    const char *level = lds_key_row(LDS_FIGURE_RMS)->stem; /* which every capture has */
    struct lds_compared_channel *out = axis->of[axis->of[1] != NULL]->out;
    char reason[256], key[96];
    if (axis->kind->match == LDS_MATCH_BANDS) {
        *ok = lds_choose(axis->view, level, row, chosen);
        return *ok && !lds_not_comparable(axis->view, chosen, level, row, reason);
    }
    *ok = choose_with_series(axis, chosen);
    bool before = chosen->count[0] > 0, after = chosen->count[1] > 0, differs = before != after;
    if (!*ok || (!before && !after))
        return false;
    if (differs)
        snprintf(reason, sizeof reason, "not among the series %s", before ? "after" : "before");
    for (int c = 0; *ok && !differs && c < 2 && axis->of[c]; c++)
        differs = channel_differs(&axis->of[c]->view, chosen, ok, reason);
    if (!differs)
        return *ok;
    snprintf(key, sizeof key, "%s%s", axis->kind->key, axis->view->suffix);
    *ok = lds_absent_add(&out->not_compared_why, &out->not_compared, key, "%s", reason);
    return false;
}

/* ---- bands and points ---- */

/* The series with the widest bands or the fewest points: the others can be converted to its bands or points. */
static const struct lds_series *coarsest(const struct lds_axis *axis, const struct lds_chosen *chosen)
{
    const struct lds_series *coarsest = series_of(axis, chosen->seen[0]);
    bool bands = axis->kind->match == LDS_MATCH_BANDS;
    for (int i = 1; i < chosen->all; i++) {
        const struct lds_series *one = series_of(axis, chosen->seen[i]);
        if (one->rows == 0 || coarsest->rows == 0)
            continue;
        if (bands ? lds_series_value(one, 0, LDS_FLOOR_HIGH_HZ) > lds_series_value(coarsest, 0, LDS_FLOOR_HIGH_HZ)
                  : one->rows < coarsest->rows)
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
    for (size_t i = 0; i < floor->rows; i++)
        if (lds_series_value(floor, i, LDS_FLOOR_LOW_HZ) < band->to * (1.0 - EDGE_SAME) &&
            lds_series_value(floor, i, LDS_FLOOR_HIGH_HZ) > band->from * (1.0 + EDGE_SAME))
            reading->flags |= lds_series_flags(floor, i);
    return true;
}

/* Nothing is compared where a value is below the floor or not covered. */
static bool read_point(const struct lds_series *series, const struct lds_band *band, struct lds_reading *reading)
{
    struct lds_cell cell = lds_series_at(series, band->x);
    bool linear = strcmp(lds_series_change_unit(series->kind), "dB") == 0 &&
                  series->kind->column[series->kind->value].quantity != LDS_QUANTITY_DB;
    if (linear)
        lds_reading_take_line(cell, reading);
    else
        lds_reading_take_cell(cell, reading);
    reading->flags = lds_series_flags_at(series, band->x);
    return isfinite(reading->value);
}

static bool read_band(const struct lds_axis *axis, const struct lds_chosen *chosen, const struct lds_series *from,
                      size_t row, struct lds_band *band)
{
    bool bands = axis->kind->match == LDS_MATCH_BANDS, read = true;
    band->x = lds_series_value(from, row, axis->kind->axis);
    band->from = bands ? lds_series_value(from, row, LDS_FLOOR_LOW_HZ) : band->x;
    band->to = bands ? lds_series_value(from, row, LDS_FLOOR_HIGH_HZ) : band->x;
    if (bands)
        band->x = sqrt(band->from * band->to);
    for (int i = 0; read && i < chosen->all; i++) {
        const struct lds_series *series = series_of(axis, chosen->seen[i]);
        read = bands ? read_power(series, band, &band->reading[i]) : read_point(series, band, &band->reading[i]);
    }
    return read;
}

/* Finds the scatter from repeats or as stated for the family, and what matters in it if it is judged in dB. */
static bool make_room(const struct lds_work *work, struct lds_axis *axis, const struct lds_chosen *chosen, size_t bands)
{
    enum lds_family family = axis->kind->family;
    axis->captures = chosen->all;
    memcpy(axis->count, chosen->count, sizeof axis->count);
    axis->way.from_repeats = lds_repeats_tell(&work->scatter, family, axis->count);
    axis->way.u_rep = axis->way.from_repeats ? 0.0 : lds_scatter_of_series(&work->scatter, axis->kind);
    bool db = strcmp(lds_series_change_unit(axis->kind), "dB") == 0;
    axis->matters = db ? lds_matters_of_family(work->options, family) : (double)NAN;
    axis->band = calloc(bands + 1, sizeof *axis->band);
    axis->reading = calloc((bands + 1) * (size_t)axis->captures, sizeof *axis->reading);
    return axis->band && axis->reading;
}

bool lds_axis_read(struct lds_work *work, struct lds_axis *axis)
{
    struct lds_chosen chosen;
    bool ok;
    if (choose(axis, &chosen, &ok)) {
        const struct lds_series *first = coarsest(axis, &chosen);
        ok = make_room(work, axis, &chosen, first->rows);
        for (size_t i = 0; ok && i < first->rows; i++) {
            struct lds_band *band = &axis->band[axis->bands];
            band->reading = axis->reading + axis->bands * (size_t)axis->captures;
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
