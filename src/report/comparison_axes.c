/* Pictures of series over an axis, before and after: both in one frame, and the change with its interval. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "report/plot.h"

static const char *const fill[2] = {LDS_SKY, LDS_VERMILION};
static const char *const line[2] = {"linecolor rgb '" LDS_BLUE "' linewidth 3",
                                    "linecolor rgb '" LDS_VERMILION "' linewidth 2 dashtype (8,5)"};

/* The series of the first capture of a side that has it; without rows if none has. */
static const struct lds_series *series_of(const struct lds_plot *plot, int s)
{
    const struct lds_side *side = &plot->side[s].side;
    const int own[2] = {plot->compared->channel, 0}, *channels = plot->pair[1] > 0 ? plot->pair : own;
    const struct lds_series *series = lds_series_find(NULL, 0, "");
    for (size_t i = 0; i < side->captures && series->rows < 2; i++)
        series = lds_measurement_series(&side->measurement[i], channels, plot->kind->key);
    return series;
}

static bool has_both(const struct lds_plot *plot)
{
    return (plot->kind->match == LDS_MATCH_AXIS || plot->kind->pictured) && series_of(plot, 0)->rows > 1 &&
           series_of(plot, 1)->rows > 1 && plot->side[0].channel && plot->side[1].channel &&
           plot->side[0].channel->calibrated == plot->side[1].channel->calibrated;
}

static void draw_both(struct lds_plot_sheet *sheet, const struct lds_plot *plot)
{
    bool calibrated = plot->side[0].channel->calibrated;
    double from = INFINITY, to = -INFINITY, low = INFINITY, high = -INFINITY;
    for (int i = 0; i < 2; i++) {
        const struct lds_series *series = series_of(plot, i);
        double first, last;
        fprintf(sheet->data, "%s# %s\n", i ? "\n\n" : "", plot->side[i].word);
        lds_plot_series_data(sheet->data, series, plot->side[i].channel->calibrated);
        lds_plot_ends(series, &first, &last);
        from = fmin(from, first);
        to = fmax(to, last);
        lds_plot_series_range(series, calibrated, &low, &high);
    }
    lds_plot_axis(sheet->script, plot->kind, calibrated, from, to);
    lds_plot_settle_range(plot, plot->kind, &low, &high);
    lds_plot_series_frame(sheet->script, plot->kind, calibrated, low, high);
    for (int i = 0; i < 2; i++)
        lds_plot_curve(
            sheet,
            "'%s' index %d using 1:3:4 with filledcurves fillcolor rgb '%s' fillstyle transparent solid 0.25 "
            "noborder notitle",
            sheet->file, i, fill[i]);
    for (int i = 0; i < 2; i++) {
        lds_plot_curve(sheet, "'%s' index %d using 1:2 with lines %s title ", sheet->file, i, line[i]);
        lds_plot_string(sheet->script, plot->side[i].name, 42);
    }
    lds_plot_settle_band(sheet, plot, plot->kind);
}

/* ---- the change ---- */

static bool has_change(const struct lds_plot *plot)
{
    const struct lds_axis_change *axis = lds_compared_axis(plot->compared, plot->key.text);
    size_t known = 0;
    for (size_t i = 0; i < axis->points; i++)
        known += isfinite(axis->point[i].change) ? 1 : 0;
    return known > 1;
}

/* Writes the points or bands, followed by those that are called; returns how many these are. */
static size_t write_change(FILE *out, const struct lds_plot *plot, const struct lds_axis_change *axis)
{
    const struct lds_column *x = &plot->kind->column[plot->kind->axis];
    const char *unit = lds_series_change_unit(plot->kind), *x_unit = lds_quantity_unit(x->quantity, axis->calibrated);
    bool bands = plot->kind->match == LDS_MATCH_BANDS;
    size_t called = 0;
    fprintf(out, "# %s/%s change/%s from/%s to/%s", x->name, x_unit, unit, unit, unit);
    if (bands)
        fprintf(out, " from/%s to/%s", x_unit, x_unit);
    fputc('\n', out);
    for (size_t i = 0; i < axis->points; i++) {
        const struct lds_axis_span *point = &axis->point[i];
        const double numbers[] = {point->x, point->change, point->low, point->high, point->from, point->to};
        lds_plot_numbers(out, numbers, bands ? 6 : 4);
    }
    fprintf(out, "\n\n# %s where the change is more than chance: %s/%s change/%s\n", bands ? "bands" : "points",
            x->name, x_unit, unit);
    for (size_t i = 0; i < axis->points; i++)
        if (axis->point[i].called) {
            fprintf(out, "%.9g %.6g\n", axis->point[i].x, axis->point[i].change);
            called++;
        }
    lds_plot_block_end(out, called, "NaN NaN");
    return called;
}

/* In dB at least twice what matters, or 1 dB, in round steps; else as far as the data and their intervals. */
static void write_change_range(FILE *out, const struct lds_axis_change *axis, bool decibels)
{
    double top = !decibels ? 0.0 : isfinite(axis->matters) ? 2.0 * axis->matters : 1.0, bottom = -top;
    for (size_t i = 0; i < axis->points; i++) {
        const struct lds_axis_span *point = &axis->point[i];
        top = fmax(top, isfinite(point->high) ? point->high : point->change);
        bottom = fmin(bottom, isfinite(point->low) ? point->low : point->change);
    }
    double step = top - bottom > 20.0 ? 5.0 : top - bottom > 8.0 ? 1.0 : 0.5;
    if (decibels)
        fprintf(out, "set yrange [%.1f:%.1f]\n", step * floor(bottom / step), step * ceil(top / step));
    else
        lds_plot_y_range(out, bottom, top);
}

static void draw_change(struct lds_plot_sheet *sheet, const struct lds_plot *plot)
{
    const struct lds_axis_change *axis = lds_compared_axis(plot->compared, plot->key.text);
    const char *label = plot->kind->change_label ? plot->kind->change_label : plot->kind->row_label;
    bool bands = plot->kind->match == LDS_MATCH_BANDS;
    const char *unit = lds_series_change_unit(plot->kind);
    double matters = axis->matters, first = axis->point[0].from, last = axis->point[axis->points - 1].to;
    size_t called = write_change(sheet->data, plot, axis);
    lds_plot_axis(sheet->script, plot->kind, axis->calibrated, bands ? fmax(first, 5.0) : first, last);
    write_change_range(sheet->script, axis, strcmp(unit, "dB") == 0);
    lds_plot_axis_title(sheet->script, 'y', lds_label("change of the %.100s", label).text, unit);
    lds_plot_curve(sheet,
                   "'%s' index 0" LDS_PLOT_INTERVAL ", each %s for itself'"
                   ", 0 with lines linewidth 1 linecolor rgb 'black' notitle"
                   ", '' index 0 using 1:2 with lines linecolor rgb '" LDS_BLUE
                   "' linewidth 2 title 'after less before'",
                   sheet->file, bands ? "band" : "point");
    if (called > 0)
        lds_plot_curve(sheet,
                       "'' index 1 using 1:2 with points pointtype 7 pointsize 1.2*mark linecolor rgb '" LDS_VERMILION
                       "' title 'more than chance, over the whole axis'");
    if (isfinite(matters))
        lds_plot_curve(sheet,
                       "%.6g with lines linecolor rgb 'black' dashtype 2 title 'smallest change that matters'"
                       ", %.6g with lines linecolor rgb 'black' dashtype 2 notitle",
                       matters, -matters);
}

const struct lds_picture lds_picture_both_series = {NULL, NULL, has_both, draw_both, LDS_SERIES_OTHER, false, true};
const struct lds_picture lds_picture_change = {NULL, NULL, has_change, draw_change, LDS_SERIES_OTHER, true, false};
