/* Harmonics as bars with their intervals, and the two waveforms: the residual and the mains. */
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
    const struct lds_series *lines = lds_channel_series(plot->side->channel, "harmonics");
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
    fprintf(out, ")\nset y2range [%.0f:%.0f]\nset border 11 linecolor rgb 'black'\nset rmargin 14\n", bottom, top);
}

static void draw_harmonics(struct lds_plot_sheet *sheet, const struct lds_plot *plot)
{
    const struct lds_series *lines = lds_channel_series(plot->side->channel, "harmonics");
    double low = INFINITY, high = -INFINITY;
    int last = 2;
    fputs("# order level/dB from/dB to/dB, all re fundamental\n", sheet->data);
    size_t bars = write_orders(sheet->data, lines, true);
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
    if (bars > 0)
        lds_plot_curve(sheet,
                       "'%s' index 0 using 1:2:($1-0.3):($1+0.3):(%.0f):2 with boxxyerror fillcolor rgb '" LDS_BLUE
                       "' fillstyle solid 0.45 border linecolor rgb '" LDS_BLUE "' title 'harmonic'"
                       ", '' index 0 using 1:3:(0):($4-$3) with vectors heads size 0.12,90 filled linewidth 1.5 "
                       "linecolor rgb 'black' title '95 %% interval'",
                       sheet->file, bottom);
    if (limits > 0)
        lds_plot_curve(sheet,
                       "'%s' index 1 using 1:2" LDS_PLOT_LIMIT "'" LDS_VERMILION "' title 'not found, below this'",
                       sheet->file);
}

static bool has_residual(const struct lds_plot *plot)
{
    return lds_channel_series(plot->side->channel, "residual")->rows > 1;
}

static bool has_mains(const struct lds_plot *plot)
{
    return lds_channel_series(plot->side->channel, "mains_waveform")->rows > 1;
}

/* A waveform and its vertical axis: symmetric about zero, with a prefix that keeps its numbers short. */
static void draw_wave(struct lds_plot_sheet *sheet, const struct lds_series *wave, bool calibrated, const char *what,
                      const char *title)
{
    double factor, largest = 0.0;
    for (size_t i = 0; i < wave->rows; i++)
        largest = fmax(largest, fabs(lds_series_value(wave, i, LDS_CURVE_Y)));
    const char *prefix = lds_plot_prefix(largest, &factor);
    largest = largest > 0.0 ? largest * factor : 1.0;
    fprintf(sheet->script, "set yrange [%.6g:%.6g]\n", -1.15 * largest, 1.15 * largest);
    if (calibrated)
        fprintf(sheet->script, "set ylabel '%s, %sV' noenhanced\n", what, prefix);
    else
        fprintf(sheet->script, "set ylabel '%s, %.0e of full scale' noenhanced\n", what, 1.0 / factor);
    fputs("set xzeroaxis linetype 1 linewidth 1 linecolor rgb 'black'\n", sheet->script);
    lds_plot_rows(sheet->data, wave, true, 2, lds_plot_xy);
    lds_plot_curve(sheet, "'%s' using 1:($2*%.0f) with lines linewidth 2 linecolor rgb '" LDS_BLUE "' title '%s'",
                   sheet->file, factor, title);
}

static void draw_residual(struct lds_plot_sheet *sheet, const struct lds_plot *plot)
{
    bool calibrated = plot->side->channel->calibrated;
    fprintf(sheet->data, "# phase of the tone/degree (cosine) residual/%s\n", calibrated ? "V" : "full scale");
    fputs("set xrange [0:360]\nset xtics 45\nset format x '%g°'\n"
          "set xlabel 'phase of the tone, from its positive peak' noenhanced\n"
          "set arrow 1 from first 90, graph 0 to first 90, graph 1 nohead linecolor rgb 'black' dashtype 3\n"
          "set arrow 2 from first 270, graph 0 to first 270, graph 1 nohead linecolor rgb 'black' dashtype 3\n"
          "set label 4 'the tone crosses zero' at first 90, graph 1.02 center noenhanced\n"
          "set label 5 'the tone crosses zero' at first 270, graph 1.02 center noenhanced\n",
          sheet->script);
    draw_wave(sheet, lds_channel_series(plot->side->channel, "residual"), calibrated, "residual",
              "harmonics from the 2nd on, one period of the tone");
}

static void draw_mains(struct lds_plot_sheet *sheet, const struct lds_plot *plot)
{
    const struct lds_series *wave = lds_channel_series(plot->side->channel, "mains_waveform");
    bool calibrated = plot->side->channel->calibrated;
    double first, last;
    lds_plot_ends(wave, &first, &last);
    double step = (last - first) / (double)(wave->rows - 1);
    fprintf(sheet->data, "# time/ms mains waveform/%s\n", calibrated ? "V" : "full scale");
    fprintf(sheet->script, "set xrange [0:%.6g]\nset xlabel 'time, ms' noenhanced\n", last + step);
    draw_wave(sheet, wave, calibrated, "mains waveform", "mean over the capture, one period of the mains");
}

const struct lds_picture lds_picture_harmonics = {"harmonics",    "Harmonics", has_harmonics,
                                                  draw_harmonics, false,       false};
const struct lds_picture lds_picture_residual = {"residual", "Residual", has_residual, draw_residual, false, false};
const struct lds_picture lds_picture_mains = {"mains", "Mains waveform", has_mains, draw_mains, false, false};
