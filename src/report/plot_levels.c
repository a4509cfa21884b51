#include "report/plot_levels.h"

#include <math.h>
#include <stdlib.h>

#include "report/series_cells.h"

enum { MOST_PEAKS = 400 };

/* The series that stands for the floor: without lines, or the density itself in a capture too short for it. */
static const struct lds_series *floor_of(const struct lds_channel *channel, int *column)
{
    const struct lds_series *floor = lds_channel_find_series(channel, LDS_SERIES_FLOOR);
    *column = LDS_FLOOR_DENSITY;
    if (floor->rows > 1)
        return floor;
    *column = LDS_CURVE_Y;
    return lds_channel_find_series(channel, LDS_SERIES_DENSITY);
}

double lds_plot_floor_at(const struct lds_channel *channel, double hz)
{
    int column;
    const struct lds_series *floor = floor_of(channel, &column);
    size_t below = 0, above = floor->rows;
    if (floor->rows == 0)
        return NAN;
    while (above - below > 1) {
        size_t middle = below + (above - below) / 2;
        if (lds_series_value(floor, middle, floor->kind->axis) <= hz)
            below = middle;
        else
            above = middle;
    }
    double y = lds_series_value(floor, below, column);
    if (below + 1 < floor->rows) {
        double x = lds_series_value(floor, below, floor->kind->axis),
               next = lds_series_value(floor, below + 1, floor->kind->axis),
               share = fmin(fmax(log(hz / x) / log(next / x), 0.0), 1.0);
        y *= pow(lds_series_value(floor, below + 1, column) / y, share);
    }
    return y > 0.0 ? y : NAN;
}

static void write_floor_at(FILE *out, const struct lds_channel *channel, double hz)
{
    lds_plot_numbers(out, (double[]){hz, lds_plot_decibels(channel->calibrated, lds_plot_floor_at(channel, hz))}, 2);
}

void lds_plot_floor_write(FILE *out, const struct lds_channel *channel)
{
    int column;
    const struct lds_series *floor = floor_of(channel, &column);
    bool bands = column == LDS_FLOOR_DENSITY;
    if (floor->rows > 0 && bands) /* the first and last band are drawn to their ends */
        write_floor_at(out, channel, lds_series_value(floor, 0, LDS_FLOOR_LOW_HZ));
    for (size_t i = 0; i < floor->rows; i++)
        write_floor_at(out, channel, lds_series_value(floor, i, floor->kind->axis));
    if (floor->rows > 0 && bands)
        write_floor_at(out, channel, lds_series_value(floor, floor->rows - 1, LDS_FLOOR_HIGH_HZ));
    lds_plot_block_end(out, floor->rows, "NaN NaN");
}

/* ---- lines ---- */

static void add_found(struct lds_plot_lines *lines, const struct lds_series *found, enum lds_plot_line_kind kind)
{
    for (size_t i = 0; i < found->rows; i++) {
        double level = lds_series_value(found, i, found->kind->value);
        if (!lds_row_is_seen(found, i) || !(level > 0.0))
            continue;
        lines->line[lines->count++] =
            (struct lds_plot_line){kind, kind == LDS_PLOT_TONE ? (int)lds_series_value(found, i, LDS_LINE_ORDER) : 0,
                                   lds_series_value(found, i, found->kind->axis), level};
    }
}

/* Whether the curve falls by 10 dB to this side before it rises above the level of the row. It does so beside a line,
 * but not in noise or on the skirt of a stronger line. */
static bool falls(const struct lds_series *curve, size_t row, int step)
{
    double peak = lds_series_value(curve, row, LDS_CURVE_Y);
    for (size_t i = row; step < 0 ? i-- > 0 : ++i < curve->rows;) {
        double y = lds_series_value(curve, i, LDS_CURVE_Y);
        if (y > peak)
            return false;
        if (y < peak * 0.316)
            return true;
    }
    return false;
}

/* Whether a line within three rows is as strong, or at most 3 dB weaker. */
static bool is_found(const struct lds_plot_lines *lines, double hz, double width_hz, double level)
{
    for (size_t i = 0; i < lines->count; i++)
        if (fabs(lines->line[i].hz - hz) <= 3.0 * width_hz && lines->line[i].level > 0.7 * level)
            return true;
    return false;
}

/* Whether its distance from the tone is a multiple of the mains frequency. */
static bool is_sideband(const struct lds_channel *channel, double hz, double width_hz)
{
    const struct lds_series *mains = lds_channel_find_series(channel, LDS_SERIES_MAINS),
                            *harmonics = lds_channel_find_series(channel, LDS_SERIES_HARMONICS);
    if (mains->rows == 0 || harmonics->rows == 0)
        return false;
    double mains_hz = lds_series_value(mains, 0, LDS_LINE_HZ) / lds_series_value(mains, 0, LDS_LINE_ORDER),
           apart_hz = fabs(hz - lds_series_value(harmonics, 0, LDS_LINE_HZ));
    double order = round(apart_hz / mains_hz);
    return order >= 1.0 && order <= 20.0 && fabs(apart_hz - order * mains_hz) <= 1.5 * width_hz &&
           width_hz < 0.2 * mains_hz;
}

/* Compares the density with the floor, since both have the same bandwidth wherever the resolution changes. */
static void add_peaks(struct lds_plot_lines *lines, const struct lds_channel *channel)
{
    const struct lds_series *curve = lds_channel_find_series(channel, LDS_SERIES_SPECTRUM),
                            *density = lds_channel_find_series(channel, LDS_SERIES_DENSITY);
    size_t found = lines->count;
    if (density->rows != curve->rows || lds_channel_find_series(channel, LDS_SERIES_FLOOR)->rows < 2)
        return;
    for (size_t i = 1; i + 1 < curve->rows && lines->count < found + MOST_PEAKS; i++) {
        double hz = lds_series_value(curve, i, LDS_CURVE_X), level = lds_series_value(curve, i, LDS_CURVE_Y),
               width_hz =
                   0.5 * (lds_series_value(curve, i + 1, LDS_CURVE_X) - lds_series_value(curve, i - 1, LDS_CURVE_X));
        if (!(lds_series_value(density, i, LDS_CURVE_Y) >= 10.0 * lds_plot_floor_at(channel, hz)) ||
            is_found(lines, hz, width_hz, level) || !falls(curve, i, -1) || !falls(curve, i, 1))
            continue;
        lines->line[lines->count++] = (struct lds_plot_line){
            is_sideband(channel, hz, width_hz) ? LDS_PLOT_SIDEBAND : LDS_PLOT_PEAK, 0, hz, level};
    }
}

bool lds_plot_lines_make(struct lds_plot_lines *lines, const struct lds_channel *channel)
{
    static const struct {
        enum lds_series_id id;
        enum lds_plot_line_kind kind;
    } found[] = {
        {LDS_SERIES_HARMONICS, LDS_PLOT_TONE}, {LDS_SERIES_MAINS, LDS_PLOT_MAINS}, {LDS_SERIES_SPURS, LDS_PLOT_SPUR}};
    size_t room = MOST_PEAKS;
    for (size_t i = 0; i < sizeof found / sizeof found[0]; i++)
        room += lds_channel_find_series(channel, found[i].id)->rows;
    *lines = (struct lds_plot_lines){0, calloc(room, sizeof *lines->line)};
    if (!lines->line)
        return false;
    for (size_t i = 0; i < sizeof found / sizeof found[0]; i++)
        add_found(lines, lds_channel_find_series(channel, found[i].id), found[i].kind);
    add_peaks(lines, channel);
    return true;
}

/* ---- the frame ---- */

void lds_plot_reach_start(struct lds_plot_reach *reach)
{
    *reach = (struct lds_plot_reach){INFINITY, 0.0, INFINITY, -INFINITY, NAN, NAN};
}

void lds_plot_reach_add(struct lds_plot_reach *reach, const struct lds_channel *channel,
                        const struct lds_plot_lines *lines)
{
    int column;
    const struct lds_series *floor = floor_of(channel, &column);
    double low, high, first_hz, last_hz;
    lds_plot_range(floor, column, &low, &high);
    if (floor->rows > 0) {
        lds_plot_ends(floor, &first_hz, &last_hz);
        bool bands = column == LDS_FLOOR_DENSITY;
        reach->first_hz = fmin(reach->first_hz, bands ? lds_series_value(floor, 0, LDS_FLOOR_LOW_HZ) : first_hz);
        reach->last_hz =
            fmax(reach->last_hz, bands ? lds_series_value(floor, floor->rows - 1, LDS_FLOOR_HIGH_HZ) : last_hz);
    }
    if (high > 0.0) {
        reach->low = fmin(reach->low, lds_plot_decibels(channel->calibrated, low));
        reach->high = fmax(reach->high, lds_plot_decibels(channel->calibrated, high));
    }
    for (size_t i = 0; i < lines->count; i++) {
        double level = lds_plot_decibels(channel->calibrated, lines->line[i].level);
        reach->first_hz = fmin(reach->first_hz, 0.9 * lines->line[i].hz);
        reach->last_hz = fmax(reach->last_hz, 1.1 * lines->line[i].hz);
        if (lines->line[i].order == 1) {
            reach->tone_hz = lines->line[i].hz;
            reach->tone = fmax(level, isnan(reach->tone) ? level : reach->tone);
        } else {
            reach->high = fmax(reach->high, level);
        }
    }
}

void lds_plot_levels_frame(FILE *out, const struct lds_plot_reach *reach, bool volts, double room, double *bottom,
                           double *top)
{
    const char *unit = volts ? "dBV" : "dBFS";
    double low = reach->low, high = reach->high;
    if (!(high >= low)) /* nothing but silence */
        low = high = fmin(isnan(reach->tone) ? -180.0 : reach->tone, -100.0);
    *bottom = 5.0 * floor(low / 5.0 - 0.8);
    double span = fmax(high - *bottom, 20.0);
    *top = 5.0 * ceil((*bottom + span * (1.0 + room)) / 5.0);
    bool cut = reach->tone > *top + 0.25 * (*top - *bottom);
    if (!cut && reach->tone > *top - 0.1 * span)
        *top = 5.0 * ceil((reach->tone + 0.12 * span) / 5.0);
    double step = *top - *bottom > 60.0 ? 20.0 : 10.0;
    lds_plot_frequency_axis(out, fmax(isfinite(reach->first_hz) ? reach->first_hz : 10.0, 5.0),
                            fmax(reach->last_hz, 20.0));
    fprintf(out, "set yrange [%.0f:%.0f]\nset ytics %.0f\nset ylabel 'rms level, noise in 1 Hz, %s' noenhanced\n",
            *bottom, *top, step, unit);
    if (cut)
        fprintf(out,
                "set label 5 'the tone: %.1f %s ' at first %.9g, graph 0.965 right noenhanced front\n"
                "set arrow 5 from first %.9g, graph 0.94 to first %.9g, graph 1.0 head filled size graph "
                "0.008,25 linewidth 1.5 linecolor rgb 'black' front\n",
                reach->tone, unit, reach->tone_hz, reach->tone_hz, reach->tone_hz);
}
