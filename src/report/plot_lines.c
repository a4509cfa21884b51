/* Harmonics as points with their intervals. */
#include <math.h>

#include "report/plot.h"
#include "report/series_cells.h"

static bool is_seen(const struct lds_series *lines, size_t row)
{
    return lds_row_is_seen(lines, row) && isfinite(lds_series_value(lines, row, LDS_LINE_RELATIVE));
}

static bool is_drawn(const struct lds_series *lines, size_t row)
{
    return lds_series_value(lines, row, LDS_LINE_ORDER) > 1.0 &&
           (is_seen(lines, row) || isfinite(lds_series_cell(lines, row, LDS_LINE_RELATIVE).high));
}

static bool has_harmonics(const struct lds_plot *plot)
{
    const struct lds_series *lines = lds_channel_find_series(plot->side->channel, LDS_SERIES_HARMONICS);
    for (size_t i = 0; i < lines->rows; i++)
        if (is_drawn(lines, i))
            return true;
    return false;
}

/* Writes the harmonics that were found, or the limits of the others; returns how many. */
static size_t write_orders(FILE *out, const struct lds_series *lines, bool found)
{
    size_t written = 0;
    for (size_t i = 0; i < lines->rows; i++) {
        struct lds_cell level = lds_series_cell(lines, i, LDS_LINE_RELATIVE);
        if (!is_drawn(lines, i) || is_seen(lines, i) != found)
            continue;
        fprintf(out, "%d %.6g", (int)lds_series_value(lines, i, LDS_LINE_ORDER), found ? level.value : level.high);
        if (found)
            fprintf(out, " %.6g %.6g", isfinite(level.low) ? level.low : level.value,
                    isfinite(level.high) ? level.high : level.value);
        fputc('\n', out);
        written++;
    }
    lds_plot_block_end(out, written, found ? "NaN NaN NaN NaN" : "NaN NaN");
    return written;
}

/* Decades of per cent next to the dB axis. */
static void write_percent_axis(FILE *out, double bottom, double top)
{
    /* gnuplot takes the text of a tic as a format, hence %%. */
    static const char *const names[] = {"100",   "10",     "1",       "0.1",      "0.01",
                                        "0.001", "0.0001", "0.00001", "0.000001", "0.0000001"};
    fputs("set y2tics nomirror (", out);
    const char *between = "";
    for (int i = 0; i < 10; i++)
        if (-20.0 * i >= bottom && -20.0 * i <= top) {
            fprintf(out, "%s'%s %%%%' %d", between, names[i], -20 * i);
            between = ", ";
        }
    fprintf(out, ")\nset y2range [%.0f:%.0f]\nset border 11 linecolor rgb 'black'\nset rmargin at screen 0.845\n",
            bottom, top);
}

static void draw_harmonics(struct lds_plot_sheet *sheet, const struct lds_plot *plot)
{
    const struct lds_series *lines = lds_channel_find_series(plot->side->channel, LDS_SERIES_HARMONICS);
    double low = INFINITY, high = -INFINITY;
    int last = 2;
    fputs("# order level/dB from/dB to/dB, all re fundamental\n", sheet->data);
    size_t points = write_orders(sheet->data, lines, true);
    fputs("\n\n# not found above the noise: order upper limit/dB\n", sheet->data);
    size_t limits = write_orders(sheet->data, lines, false);
    for (size_t i = 0; i < lines->rows; i++) {
        struct lds_cell level = lds_series_cell(lines, i, LDS_LINE_RELATIVE);
        if (!is_drawn(lines, i))
            continue;
        double top = is_seen(lines, i) ? level.value : level.high;
        low = fmin(low, top);
        high = fmax(high, isfinite(level.high) ? fmax(top, level.high) : top);
        last = (int)fmax(last, lds_series_value(lines, i, LDS_LINE_ORDER));
    }
    double bottom = 10.0 * floor(low / 10.0 - 0.8), top = 10.0 * ceil(high / 10.0 + 0.2);
    fprintf(sheet->script, "set xrange [1.2:%.1f]\nset yrange [%.0f:%.0f]\nset xtics %d\n" LDS_PLOT_ORDERS, last + 0.8,
            bottom, top, last > 30 ? 5 : 1);
    write_percent_axis(sheet->script, bottom, top);
    if (points > 0)
        lds_plot_curve(sheet,
                       "'%s' index 0 using 1:3:(0):($4-$3) with vectors heads size 0.15,90 filled linewidth 1.5 "
                       "linecolor rgb 'black' title '95 %% interval'"
                       ", '' index 0 using 1:2 with points pointtype 7 pointsize 1.3*mark linecolor rgb '" LDS_BLUE
                       "' title 'harmonic'",
                       sheet->file);
    if (limits > 0)
        lds_plot_curve(sheet,
                       "'%s' index 1 using 1:2" LDS_PLOT_LIMIT "'" LDS_VERMILION "' title 'not found, below this'",
                       sheet->file);
}

const struct lds_picture lds_picture_harmonics = {"harmonics",      "Harmonics", has_harmonics, draw_harmonics,
                                                  LDS_SERIES_OTHER, false,       false};
