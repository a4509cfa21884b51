#include "record/series.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "grow.h"

/* ---- reading ---- */

double lds_series_value(const struct lds_series *series, size_t row, int column)
{
    return series->number[row * series->width + (size_t)column];
}

/* Index of a column's limits in its row, or 0. */
static size_t limits_at(const struct lds_series_kind *kind, int column)
{
    size_t at = (size_t)kind->columns;
    for (int c = 0; c < column; c++)
        at += kind->column[c].limits ? 2 : 0;
    return kind->column[column].limits ? at : 0;
}

struct lds_cell lds_series_cell(const struct lds_series *series, size_t row, int column)
{
    const double *number = series->number + row * series->width;
    size_t limits = limits_at(series->kind, column);
    struct lds_cell cell = {number[column], NAN, NAN};
    if (limits) {
        cell.low = number[limits];
        cell.high = number[limits + 1];
    }
    return cell;
}

/* The rows between which x is on the axis; both the same if x is that of a row. false: it is outside. */
static bool rows_about(const struct lds_series *series, double x, size_t *left, size_t *right)
{
    size_t row = series->rows;
    int axis = series->kind ? series->kind->axis : 0;
    while (row > 0 && lds_series_value(series, row - 1, axis) >= x)
        row--;
    bool there = row < series->rows && lds_series_value(series, row, axis) == x;
    *left = there || row == 0 ? row : row - 1;
    *right = row;
    return there || (row > 0 && row < series->rows);
}

struct lds_cell lds_series_at(const struct lds_series *series, double x)
{
    size_t left, right;
    if (!rows_about(series, x, &left, &right))
        return (struct lds_cell){NAN, NAN, NAN};
    struct lds_cell a = lds_series_cell(series, left, series->kind->value);
    if (left == right)
        return a;
    double x1 = lds_series_value(series, left, series->kind->axis);
    double x2 = lds_series_value(series, right, series->kind->axis);
    double share = series->kind->log_axis && x1 > 0.0 ? log(x / x1) / log(x2 / x1) : (x - x1) / (x2 - x1);
    struct lds_cell b = lds_series_cell(series, right, series->kind->value);
    return (struct lds_cell){a.value + share * (b.value - a.value), a.low + share * (b.low - a.low),
                             a.high + share * (b.high - a.high)};
}

unsigned lds_series_flags(const struct lds_series *series, size_t row)
{
    return series->flags | (series->flag ? series->flag[row] : 0u);
}

unsigned lds_series_flags_at(const struct lds_series *series, double x)
{
    size_t left, right;
    if (!rows_about(series, x, &left, &right))
        return series->flags;
    return lds_series_flags(series, left) | lds_series_flags(series, right);
}

size_t lds_series_row_of(const struct lds_series *series, int column, double value)
{
    size_t row = 0;
    while (row < series->rows && lds_series_value(series, row, column) != value)
        row++;
    return row;
}

size_t lds_series_row_named(const struct lds_series *series, const char *text)
{
    size_t row = 0;
    while (row < series->rows && strcmp(series->text[row], text) != 0)
        row++;
    return row;
}

const struct lds_series *lds_series_find(const struct lds_series *series, size_t count, const char *key)
{
    static const struct lds_series none = {0};
    for (size_t i = 0; i < count; i++)
        if (strcmp(series[i].kind->key, key) == 0)
            return &series[i];
    return &none;
}

const struct lds_series *lds_channel_series(const struct lds_channel *channel, const char *key)
{
    return lds_series_find(channel->series, channel->series_count, key);
}

const struct lds_series *lds_channel_find_series(const struct lds_channel *channel, enum lds_series_id id)
{
    return lds_channel_series(channel, lds_series_kind_of(id)->key);
}

const struct lds_series *lds_pair_series(const struct lds_pair *pair, const char *key)
{
    return lds_series_find(pair->series, pair->series_count, key);
}

const struct lds_series *lds_measurement_series(const struct lds_measurement *measurement, const int channels[2],
                                                const char *key)
{
    for (size_t c = 0; channels[1] == 0 && c < measurement->channels; c++)
        if (measurement->channel[c].channel == channels[0])
            return lds_channel_series(&measurement->channel[c], key);
    for (size_t p = 0; p < measurement->pairs; p++)
        if (measurement->pair[p].channels[0] == channels[0] && measurement->pair[p].channels[1] == channels[1])
            return lds_pair_series(&measurement->pair[p], key);
    return lds_series_find(NULL, 0, key);
}

struct lds_series *lds_channel_own_series(struct lds_channel *channel, const char *key)
{
    for (size_t i = 0; i < channel->series_count; i++)
        if (strcmp(channel->series[i].kind->key, key) == 0)
            return &channel->series[i];
    return NULL;
}

/* ---- making ---- */

struct lds_series *lds_series_add(struct lds_series **list, size_t *count, const char *key)
{
    const struct lds_series_kind *kind = lds_series_kind_find(key);
    struct lds_series *series = kind ? lds_grow(list, count, sizeof *series) : NULL;
    if (!series)
        return NULL;
    series->kind = kind;
    if (kind->form == LDS_FORM_OVER_AXIS && kind->chain != LDS_CHAIN_NONE)
        series->flags = LDS_FLAG_CHAIN_NOT_MEASURED;
    series->width = (size_t)kind->columns;
    for (int c = 0; c < kind->columns; c++)
        series->width += kind->column[c].limits ? 2 : 0;
    return series;
}

struct lds_series *lds_channel_add_series(struct lds_channel *channel, const char *key)
{
    return lds_series_add(&channel->series, &channel->series_count, key);
}

struct lds_series *lds_pair_add_series(struct lds_pair *pair, const char *key)
{
    return lds_series_add(&pair->series, &pair->series_count, key);
}

/* Makes room for twice as many rows. If memory runs out, the rows stay as they were. */
static bool widen(struct lds_series *series)
{
    size_t room = series->room ? 2 * series->room : 16;
    bool done = lds_resize(&series->number, room * series->width, sizeof *series->number) &&
                (!series->kind->flags || lds_resize(&series->flag, room, sizeof *series->flag)) &&
                (!series->kind->text || lds_resize(&series->text, room, sizeof *series->text));
    series->room = done ? room : series->room;
    return done;
}

bool lds_series_add_row(struct lds_series *series, const double *value)
{
    if (series->rows == series->room && !widen(series))
        return false;
    size_t row = series->rows++, columns = (size_t)series->kind->columns;
    double *number = series->number + row * series->width;
    memcpy(number, value, columns * sizeof *number);
    for (size_t i = columns; i < series->width; i++)
        number[i] = NAN;
    if (series->flag)
        series->flag[row] = 0;
    if (series->text)
        series->text[row][0] = '\0';
    return true;
}

void lds_series_set(struct lds_series *series, size_t row, int column, double value)
{
    series->number[row * series->width + (size_t)column] = value;
}

void lds_series_set_limits(struct lds_series *series, size_t row, int column, double low, double high)
{
    double *limits = series->number + row * series->width + limits_at(series->kind, column);
    limits[0] = low;
    limits[1] = high;
}

void lds_series_free(struct lds_series *series, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        free(series[i].number);
        free(series[i].flag);
        free(series[i].text);
    }
    free(series);
}
