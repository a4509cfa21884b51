/* Numbers of lines and of the floor as figures. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "loadside/series.h"
#include "measure/judge.h"

static void set(struct lds_figure *figure, struct lds_cell cell)
{
    figure->value = cell.value;
    figure->low = cell.low;
    figure->high = cell.high;
}

/* The column of that name in a row. */
static void from_row(const struct lds_series *series, size_t row, const char *what, struct lds_figure *figure)
{
    for (int c = 0; c < series->kind->columns; c++) {
        if (strcmp(series->kind->column[c].name, what) != 0)
            continue;
        set(figure, lds_series_cell(series, row, c));
        figure->flags = series->flag ? series->flag[row] : 0u;
        if (series->kind->column[c].quantity == LDS_QUANTITY_DB)
            memcpy(figure->unit, "dB", sizeof "dB");
    }
}

static void from_spurs(const struct lds_channel *channel, double seconds, double at_hz, const char *what,
                       struct lds_figure *figure)
{
    const struct lds_series *spurs = lds_channel_series(channel, "spurs");
    for (size_t i = 0; i < spurs->rows; i++)
        if (!(fabs(lds_series_value(spurs, i, LDS_SPUR_HZ) - at_hz) > 4.0 / seconds))
            from_row(spurs, i, what, figure);
}

/* Degrees of freedom over their closed form for the band, since the program chooses the bands. */
static void from_floor(const struct lds_channel *channel, double seconds, double at_hz, const char *what,
                       struct lds_figure *figure)
{
    const struct lds_series *floor = lds_channel_series(channel, "floor");
    for (size_t i = 0; i < floor->rows; i++) {
        double low_hz = lds_series_value(floor, i, LDS_FLOOR_LOW_HZ);
        double high_hz = lds_series_value(floor, i, LDS_FLOOR_HIGH_HZ);
        if (at_hz < low_hz || at_hz >= high_hz)
            continue;
        double dof = lds_series_value(floor, i, LDS_FLOOR_DOF);
        from_row(floor, i, what, figure);
        figure->dof = dof / judge_band_dof(seconds, low_hz, high_hz, NULL, NULL, NULL);
        figure->u_a = lds_series_value(floor, i, LDS_FLOOR_MEAN) * sqrt(0.5 / dof);
    }
}

bool judge_line(const struct lds_measurement *measurement, const struct judged *row, struct lds_figure *figure)
{
    const struct lds_channel *channel = &measurement->channel[row->channel];
    int order;
    char kind[16], what[16];
    *figure = (struct lds_figure){
        .value = NAN, .low = NAN, .high = NAN, .u_a = NAN, .u_b = NAN, .dof = INFINITY, .removed_hz = NAN};
    if (sscanf(row->key, "%15[a-z].%d.%15[a-z]", kind, &order, what) == 3) {
        const struct lds_series *lines = lds_channel_series(channel, kind);
        size_t found = lds_series_row_of(lines, LDS_LINE_ORDER, order);
        if (found < lines->rows)
            from_row(lines, found, what, figure);
        return true;
    }
    if (sscanf(row->key, "spurs.%15[a-z]", what) == 1) {
        from_spurs(channel, measurement->seconds, row->at_hz, what, figure);
        return true;
    }
    if (sscanf(row->key, "floor.%15[a-z]", what) == 1) {
        from_floor(channel, measurement->seconds, row->at_hz, what, figure);
        return true;
    }
    return false;
}
