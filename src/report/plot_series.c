/* Pictures of any series over an axis: its values with their interval, and limits where there is no value. */
#include <ctype.h>
#include <math.h>
#include <string.h>

#include "report/plot.h"

struct lds_short lds_plot_where(const struct lds_plot *plot, const char *between)
{
    const char *name = plot->compared ? plot->compared->name : plot->side->channel->name;
    if (plot->pair[1] > 0)
        return lds_short("channels%s%d and %d", between, plot->pair[0], plot->pair[1]);
    if (name)
        return lds_short("%.39s", name);
    return lds_short("channel%s%d", between, plot->compared ? plot->compared->channel : plot->side->channel->channel);
}

static const char *const side_style[2] = {"linecolor rgb '" LDS_BLUE "' linewidth 3",
                                          "linecolor rgb '" LDS_VERMILION "' linewidth 3 dashtype (8,5)"};

void lds_plot_side_curves(struct lds_plot_sheet *sheet, const struct lds_plot *plot)
{
    for (int i = 0; i < 2; i++) {
        lds_plot_curve(sheet, "'%s' index %d using 1:2 with lines %s title ", sheet->file, i, side_style[i]);
        lds_plot_string(sheet->script, plot->side[i].name, 42);
    }
}

struct lds_short lds_plot_series_name(const char *key, const char *end)
{
    struct lds_short name = lds_short("%s%s", key, end);
    for (char *c = name.text; *c; c++)
        *c = *c == '.' ? '-' : *c;
    return name;
}

void lds_plot_series_data(FILE *out, const struct lds_series *series, bool calibrated)
{
    const struct lds_series_kind *kind = series->kind;
    const struct lds_column *x = &kind->column[kind->axis], *y = &kind->column[kind->value];
    const int columns[] = {kind->axis, kind->value};
    const char *unit = lds_quantity_unit(y->quantity, calibrated);
    fprintf(out, "# %s/%s %s/%s from/%s to/%s\n", x->name, lds_quantity_unit(x->quantity, calibrated), y->name, unit,
            unit, unit);
    lds_plot_rows(out, series, calibrated, 2, columns);
}

/* Writes the rows that only have a limit; returns how many. */
static size_t write_limits(FILE *out, const struct lds_series *series, bool calibrated)
{
    const struct lds_series_kind *kind = series->kind;
    size_t written = 0;
    for (size_t i = 0; i < series->rows; i++) {
        struct lds_cell cell = lds_series_cell(series, i, kind->value);
        if (isfinite(cell.value) || !isfinite(cell.high))
            continue;
        fprintf(out, "%.9g %.9g\n", lds_series_value(series, i, kind->axis),
                lds_plot_drawn(kind->column[kind->value].quantity, calibrated, cell.high));
        written++;
    }
    lds_plot_block_end(out, written, "NaN NaN");
    return written;
}

static void widen(const struct lds_series *series, bool calibrated, double number, double *low, double *high)
{
    double y = lds_plot_drawn(series->kind->column[series->kind->value].quantity, calibrated, number);
    if (isfinite(y)) {
        *low = fmin(*low, y);
        *high = fmax(*high, y);
    }
}

void lds_plot_series_range(const struct lds_series *series, bool calibrated, double *low, double *high)
{
    for (size_t i = 0; i < series->rows; i++) {
        struct lds_cell cell = lds_series_cell(series, i, series->kind->value);
        const double numbers[] = {cell.value, cell.low, cell.high};
        for (int k = 0; k < 3; k++)
            widen(series, calibrated, numbers[k], low, high);
    }
}

void lds_plot_series_frame(FILE *out, const struct lds_series_kind *kind, bool calibrated, double low, double high)
{
    lds_plot_y_range(out, low, high);
    lds_plot_axis_title(out, 'y', kind->row_label, lds_quantity_unit(kind->column[kind->value].quantity, calibrated));
}

/* V; NAN: there is none to draw. */
static double settle_band(const struct lds_plot *plot, const struct lds_series_kind *kind)
{
    const struct lds_side *side = &plot->side[0].side;
    const double band_v = side->captures > 0 ? side->measurement[0].settle_band_v : 0.0;
    return kind->settles && band_v > 0.0 && plot->side[0].channel->calibrated ? band_v : (double)NAN;
}

void lds_plot_settle_range(const struct lds_plot *plot, const struct lds_series_kind *kind, double *low, double *high)
{
    const double band_v = settle_band(plot, kind);
    *low = fmin(*low, -band_v); /* fmin and fmax ignore NAN */
    *high = fmax(*high, band_v);
}

void lds_plot_settle_band(struct lds_plot_sheet *sheet, const struct lds_plot *plot, const struct lds_series_kind *kind)
{
    const double band_v = settle_band(plot, kind);
    if (isnan(band_v))
        return;
    lds_plot_curve(sheet,
                   "%.6g with lines linewidth 1 linecolor rgb 'black' dashtype 3 title 'settled between these'"
                   ", %.6g with lines linewidth 1 linecolor rgb 'black' dashtype 3 notitle",
                   band_v, -band_v);
}

bool lds_plot_is_part(const struct lds_channel *channel, const struct lds_series_kind *kind)
{
    return kind->part_of && lds_channel_series(channel, kind->part_of)->rows > 1;
}

/* Whether a series of the channel is drawn as a part of this one. */
static bool is_part_of(const struct lds_series *part, const struct lds_series *whole)
{
    return part->rows > 1 && part->kind->part_of && strcmp(part->kind->part_of, whole->kind->key) == 0;
}

/* The parts of a series, each as a block of data. */
static void write_parts(FILE *out, const struct lds_plot *plot, double *low, double *high)
{
    const struct lds_channel *channel = plot->side->channel;
    for (size_t i = 0; plot->pair[1] == 0 && i < channel->series_count; i++) {
        const struct lds_series *part = &channel->series[i];
        if (!is_part_of(part, plot->series))
            continue;
        fprintf(out, "\n\n# %s\n", part->kind->key);
        lds_plot_series_data(out, part, channel->calibrated);
        for (size_t row = 0; row < part->rows; row++) /* parts are drawn without intervals */
            widen(part, channel->calibrated, lds_series_value(part, row, part->kind->value), low, high);
    }
}

/* Draws the parts as thin lines, from that block of data on. */
static void draw_parts(struct lds_plot_sheet *sheet, const struct lds_plot *plot, int block)
{
    static const char *const style[] = {
        "'black' dashtype 1",          "'#777777' dashtype 1",          "'black' dashtype (8,4)",
        "'#777777' dashtype (8,4)",    "'black' dashtype (2,3)",        "'#777777' dashtype (2,3)",
        "'black' dashtype (10,3,2,3)", "'#777777' dashtype (10,3,2,3)", "'black' dashtype (1,1)"};
    const struct lds_channel *channel = plot->side->channel;
    size_t drawn = 0;
    for (size_t i = 0; plot->pair[1] == 0 && i < channel->series_count; i++)
        if (is_part_of(&channel->series[i], plot->series))
            lds_plot_curve(sheet, "'' index %d using 1:2 with lines linewidth 1 linecolor rgb %s title '%s'", block++,
                           style[drawn++ % (sizeof style / sizeof *style)], channel->series[i].kind->row_label);
}

static void draw(struct lds_plot_sheet *sheet, const struct lds_plot *plot)
{
    const struct lds_series *series = plot->series;
    bool calibrated = plot->side->channel->calibrated;
    double first, last, low = INFINITY, high = -INFINITY;
    lds_plot_series_data(sheet->data, series, calibrated);
    fputs("\n\n# below the floor: upper limits\n", sheet->data);
    size_t limits = write_limits(sheet->data, series, calibrated);
    write_parts(sheet->data, plot, &low, &high);
    lds_plot_ends(series, &first, &last);
    lds_plot_axis(sheet->script, series->kind, calibrated, first, last);
    lds_plot_series_range(series, calibrated, &low, &high);
    lds_plot_settle_range(plot, series->kind, &low, &high);
    lds_plot_series_frame(sheet->script, series->kind, calibrated, low, high);
    lds_plot_curve(sheet, "'%s' index 0" LDS_PLOT_INTERVAL "'", sheet->file);
    lds_plot_curve(sheet, "'' index 0 using 1:2 with lines linecolor rgb '" LDS_BLUE "' linewidth 2 title '%s'",
                   series->kind->row_label);
    if (limits > 0)
        lds_plot_curve(sheet, "'' index 1 using 1:2" LDS_PLOT_LIMIT "'" LDS_VERMILION "' title 'upper limit'");
    draw_parts(sheet, plot, 2);
    lds_plot_settle_band(sheet, plot, series->kind);
}

const struct lds_picture lds_picture_series = {NULL, NULL, NULL, draw, LDS_SERIES_OTHER, false, false};
