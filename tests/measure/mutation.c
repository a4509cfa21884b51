#include "measure/mutation.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "record/series.h"

struct mutation {
    char kind[16];
    const char *key; /* NULL: all */
    FILE *told;
};

static bool asked(const struct mutation *m, const char *key)
{
    return !m->key || strcmp(m->key, key) == 0;
}

static bool is(const struct mutation *m, const char *kind)
{
    return strcmp(m->kind, kind) == 0;
}

static void tell(const struct mutation *m, const char *key, bool changed)
{
    if (changed && m->told)
        fprintf(m->told, "%s\n", key);
}

/* NAN and infinity stay what they are. */
static bool scale(double *number, double factor)
{
    const double before = *number;
    *number *= factor;
    return isfinite(before) && *number != before;
}

/* For an upper limit alone, half of it, 6 dB less. */
static bool narrow(double value, double *low, double *high, bool db)
{
    const double low_before = *low, high_before = *high;
    if (isnan(value) && isfinite(*high)) {
        *high = db ? *high - 6.0 : 0.5 * *high;
        return *high != high_before;
    }
    if (isfinite(value)) {
        *low = value - 0.5 * (value - *low);
        *high = value + 0.5 * (*high - value);
    }
    return *low != low_before && *high != high_before && !isnan(low_before) && !isnan(high_before);
}

static bool is_db(const char *unit)
{
    return strcmp(unit, "dB") == 0 || strcmp(unit, "dBFS") == 0;
}

static bool move(double *value, double *low, double *high, double by)
{
    *value += by;
    *low += by;
    *high += by;
    return isfinite(*value) && by != 0.0;
}

static bool change_figure(const struct mutation *m, struct lds_figure *figure)
{
    if (is(m, "value")) {
        const double u = isnan(figure->u_a) ? 0.0 : figure->u_a;
        const double by = is_db(figure->unit) ? 0.5 : fmax(0.05 * fabs(figure->value), u);
        return move(&figure->value, &figure->low, &figure->high, by);
    }
    if (is(m, "interval"))
        return narrow(figure->value, &figure->low, &figure->high, is_db(figure->unit));
    if (is(m, "u_a"))
        return scale(&figure->u_a, 0.5);
    if (is(m, "u_b"))
        return scale(&figure->u_b, 0.5);
    return is(m, "dof") && scale(&figure->dof, 4.0);
}

static void change_figures(const struct mutation *m, struct lds_figure *figure, size_t *count)
{
    size_t kept = 0;
    for (size_t i = 0; i < *count; i++) {
        const bool mine = asked(m, figure[i].key), away = mine && is(m, "absent");
        tell(m, figure[i].key, away || (mine && change_figure(m, &figure[i])));
        if (away)
            free(figure[i].key);
        else
            figure[kept++] = figure[i];
    }
    *count = kept;
}

/* ---- lines: each number has a key of its own ---- */

static void change_cell(const struct mutation *m, const char *key, struct lds_cell *cell, bool db)
{
    bool changed = false;
    if (!asked(m, key))
        return;
    if (is(m, "value"))
        changed = move(&cell->value, &cell->low, &cell->high, db ? 0.5 : 0.05 * fabs(cell->value));
    else if (is(m, "interval"))
        changed = narrow(cell->value, &cell->low, &cell->high, db);
    else if (is(m, "absent")) {
        changed = isfinite(cell->value);
        cell->value = NAN;
    }
    tell(m, key, changed);
}

static void change_number(const struct mutation *m, struct lds_series *series, size_t row, int c)
{
    const struct lds_column *column = &series->kind->column[c];
    struct lds_cell cell = lds_series_cell(series, row, c);
    char key[64];
    if (series->kind->match == LDS_MATCH_ORDER || series->kind->match == LDS_MATCH_NAME)
        snprintf(key, sizeof key, "%s.%d.%s", series->kind->key, (int)lds_series_value(series, row, LDS_LINE_ORDER),
                 column->name);
    else
        snprintf(key, sizeof key, "%s.%s", series->kind->key, column->name);
    change_cell(m, key, &cell, column->quantity == LDS_QUANTITY_DB);
    lds_series_set(series, row, c, cell.value);
    if (column->limits)
        lds_series_set_limits(series, row, c, cell.low, cell.high);
}

/* Order and edges identify the row; degrees of freedom are those of the mean. */
static void change_series(const struct mutation *m, struct lds_series *series)
{
    const bool bands = series->kind->match == LDS_MATCH_BANDS;
    for (size_t i = 0; series->kind->form == LDS_FORM_LINES && i < series->rows; i++)
        for (int c = 0; c < series->kind->columns; c++) {
            const enum lds_quantity quantity = series->kind->column[c].quantity;
            double number = lds_series_value(series, i, c);
            if (quantity == LDS_QUANTITY_NUMBER && is(m, "dof") && asked(m, "floor.mean")) {
                tell(m, "floor.mean", scale(&number, 4.0));
                lds_series_set(series, i, c, number);
            } else if (quantity != LDS_QUANTITY_NUMBER && quantity != LDS_QUANTITY_ORDER &&
                       !(bands && quantity == LDS_QUANTITY_HZ)) {
                change_number(m, series, i, c);
            }
        }
}

static void change_channel(const struct mutation *m, struct lds_channel *channel)
{
    change_figures(m, channel->figure, &channel->figures);
    for (size_t i = 0; i < channel->series_count; i++)
        change_series(m, &channel->series[i]);
}

void mutate_measurement(struct lds_measurement *measurement)
{
    const char *wanted = getenv("LDS_MUTATE"), *told = getenv("LDS_MUTATE_TOLD");
    if (!wanted)
        return;
    const char *colon = strchr(wanted, ':');
    struct mutation m = {.key = colon ? colon + 1 : NULL, .told = told ? fopen(told, "a") : NULL};
    snprintf(m.kind, sizeof m.kind, "%.*s", (int)(colon ? colon - wanted : (ptrdiff_t)strlen(wanted)), wanted);
    for (size_t i = 0; i < measurement->channels; i++)
        change_channel(&m, &measurement->channel[i]);
    for (size_t i = 0; i < measurement->pairs; i++)
        change_figures(&m, measurement->pair[i].figure, &measurement->pair[i].figures);
    if (m.told)
        fclose(m.told);
}
