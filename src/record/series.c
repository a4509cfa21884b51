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

/* Where the limits of a column stand in its row, or 0. */
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

struct lds_cell lds_series_at(const struct lds_series *series, double x)
{
    struct lds_cell cell = {NAN, NAN, NAN};
    size_t last = series->rows;
    int axis = series->kind ? series->kind->axis : 0;
    while (last > 0 && lds_series_value(series, last - 1, axis) >= x)
        last--;
    if (last == series->rows)
        return cell;
    double right = lds_series_value(series, last, axis);
    if (right == x)
        return lds_series_cell(series, last, series->kind->value);
    if (last == 0)
        return cell;
    double left = lds_series_value(series, last - 1, axis);
    double share = series->kind->log_axis ? log(x / left) / log(right / left) : (x - left) / (right - left);
    struct lds_cell a = lds_series_cell(series, last - 1, series->kind->value);
    struct lds_cell b = lds_series_cell(series, last, series->kind->value);
    return (struct lds_cell){a.value + share * (b.value - a.value), a.low + share * (b.low - a.low),
                             a.high + share * (b.high - a.high)};
}

size_t lds_series_row_of(const struct lds_series *series, int column, double value)
{
    size_t row = 0;
    while (row < series->rows && lds_series_value(series, row, column) != value)
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

const struct lds_series *lds_pair_series(const struct lds_pair *pair, const char *key)
{
    return lds_series_find(pair->series, pair->series_count, key);
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

/* Room for twice as many rows. What could not be had of it leaves the rows that are there as they were. */
static bool widen(struct lds_series *series)
{
    size_t room = series->room ? 2 * series->room : 16;
    double *number = realloc(series->number, room * series->width * sizeof *number);
    series->number = number ? number : series->number;
    bool done = number != NULL;
    if (done && series->kind->flags) {
        unsigned *flag = realloc(series->flag, room * sizeof *flag);
        series->flag = flag ? flag : series->flag;
        done = flag != NULL;
    }
    if (done && series->kind->text) {
        char(*text)[LDS_SERIES_TEXT] = realloc(series->text, room * sizeof *text);
        series->text = text ? text : series->text;
        done = text != NULL;
    }
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
