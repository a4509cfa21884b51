/* Harmonics as bars with their intervals, and the two waveforms: what is left of the tone, and the mains. */
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

static bool has_harmonics(const struct lds_channel *channel)
{
    const struct lds_series *lines = lds_channel_series(channel, "harmonics");
    for (size_t i = 0; i < lines->rows; i++)
        if (is_drawn(lines, i))
            return true;
    return false;
}

static void write_harmonics_data(FILE *out, const struct lds_plot *plot)
{
    const struct lds_series *lines = lds_channel_series(plot->channel, "harmonics");
    fputs("# order level/dB from/dB to/dB, all re fundamental\n", out);
    size_t written = 0;
    for (size_t i = 0; i < lines->rows; i++) {
        struct lds_cell level = lds_series_cell(lines, i, LDS_LINE_RELATIVE);
        if (!is_drawn(lines, i) || !is_seen(lines, i))
            continue;
        fprintf(out, "%d %.6g %.6g %.6g\n", (int)lds_series_value(lines, i, LDS_LINE_ORDER), level.value,
                isfinite(level.low) ? level.low : level.value, isfinite(level.high) ? level.high : level.value);
        written++;
    }
    if (written == 0)
        fputs("NaN NaN NaN NaN\n", out);
    fputs("\n\n# not found above the noise: order upper limit/dB\n", out);
    written = 0;
    for (size_t i = 0; i < lines->rows; i++) {
        if (!is_drawn(lines, i) || is_seen(lines, i))
            continue;
        fprintf(out, "%d %.6g\n", (int)lds_series_value(lines, i, LDS_LINE_ORDER),
                lds_series_cell(lines, i, LDS_LINE_RELATIVE).high);
        written++;
    }
    if (written == 0)
        fputs("NaN NaN\n", out);
}

/* Decades of per cent beside the dB axis. */
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

static void write_harmonics_script(FILE *out, const struct lds_plot *plot)
{
    const struct lds_series *lines = lds_channel_series(plot->channel, "harmonics");
    double low = INFINITY, high = -INFINITY;
    int last = 2;
    bool limits = false, bars = false;
    for (size_t i = 0; i < lines->rows; i++) {
        struct lds_cell level = lds_series_cell(lines, i, LDS_LINE_RELATIVE);
        if (!is_drawn(lines, i))
            continue;
        bool found = is_seen(lines, i);
        double top = found ? level.value : level.high;
        low = fmin(low, top);
        high = fmax(high, isfinite(level.high) ? fmax(top, level.high) : top);
        last = (int)fmax(last, lds_series_value(lines, i, LDS_LINE_ORDER));
        limits = limits || !found;
        bars = bars || found;
    }
    double bottom = 10.0 * floor(low / 10.0 - 0.8), top = 10.0 * ceil(high / 10.0 + 0.2);
    fprintf(out, "set xrange [1.2:%.1f]\nset yrange [%.0f:%.0f]\nset xtics %d\n", last + 0.8, bottom, top,
            last > 30 ? 5 : 1);
    fputs("set xlabel 'order of the harmonic' noenhanced\nset ylabel 'level re fundamental, dB' noenhanced\n"
          "unset grid\nset grid ytics linecolor rgb '#dddddd' linetype 1 linewidth 0.5\n",
          out);
    write_percent_axis(out, bottom, top);
    const char *between = "plot ";
    if (bars) {
        fprintf(out,
                "%s'%s' index 0 using 1:2:($1-0.3):($1+0.3):(%.0f):2 with boxxyerror fillcolor rgb '" LDS_BLUE
                "' fillstyle solid 0.45 border linecolor "
                "rgb '" LDS_BLUE "' title 'harmonic'"
                ", '' index 0 using 1:3:(0):($4-$3) with vectors heads size 0.12,90 filled linewidth 1.5 linecolor rgb "
                "'black' title '95 %% "
                "interval'",
                between, plot->data, bottom);
        between = ", ";
    }
    if (limits)
        fprintf(out,
                "%s'%s' index 1 using 1:2 with points pointtype 10 pointsize 1.5 linewidth 1.5 linecolor rgb "
                "'" LDS_VERMILION "' title 'not found, below this'",
                between, plot->data);
    fputc('\n', out);
}

static bool has_residual(const struct lds_channel *channel)
{
    return lds_channel_series(channel, "residual")->rows > 1;
}

static bool has_mains(const struct lds_channel *channel)
{
    return lds_channel_series(channel, "mains_waveform")->rows > 1;
}

static void write_residual_data(FILE *out, const struct lds_plot *plot)
{
    fprintf(out, "# phase of the tone/degree (cosine) residual/%s\n", plot->channel->calibrated ? "V" : "full scale");
    lds_plot_rows(out, lds_channel_series(plot->channel, "residual"), true, 2, lds_plot_curve);
}

static void write_mains_data(FILE *out, const struct lds_plot *plot)
{
    fprintf(out, "# time/ms mains waveform/%s\n", plot->channel->calibrated ? "V" : "full scale");
    lds_plot_rows(out, lds_channel_series(plot->channel, "mains_waveform"), true, 2, lds_plot_curve);
}

/* The vertical axis of a waveform: even about zero, in a prefix that keeps its numbers short. */
static double write_wave_axis(FILE *out, const struct lds_plot *plot, const struct lds_series *curve, const char *what)
{
    double factor, largest = 0.0;
    for (size_t i = 0; i < curve->rows; i++)
        largest = fmax(largest, fabs(lds_series_value(curve, i, LDS_CURVE_Y)));
    const char *prefix = lds_plot_prefix(largest, &factor);
    largest = largest > 0.0 ? largest * factor : 1.0;
    fprintf(out, "set yrange [%.6g:%.6g]\n", -1.15 * largest, 1.15 * largest);
    if (plot->channel->calibrated)
        fprintf(out, "set ylabel '%s, %sV' noenhanced\n", what, prefix);
    else
        fprintf(out, "set ylabel '%s, %.0e of full scale' noenhanced\n", what, 1.0 / factor);
    fputs("set xzeroaxis linetype 1 linewidth 1 linecolor rgb 'black'\n", out);
    return factor;
}

static void write_residual_script(FILE *out, const struct lds_plot *plot)
{
    fputs("set xrange [0:360]\nset xtics 45\nset format x '%g°'\n"
          "set xlabel 'phase of the tone, from its positive peak' noenhanced\n"
          "set arrow 1 from first 90, graph 0 to first 90, graph 1 nohead linecolor rgb 'black' dashtype 3\n"
          "set arrow 2 from first 270, graph 0 to first 270, graph 1 nohead linecolor rgb 'black' dashtype 3\n"
          "set label 4 'the tone crosses zero' at first 90, graph 1.02 center noenhanced\n"
          "set label 5 'the tone crosses zero' at first 270, graph 1.02 center noenhanced\n",
          out);
    double factor = write_wave_axis(out, plot, lds_channel_series(plot->channel, "residual"), "residual");
    fprintf(out,
            "plot '%s' using 1:($2*%.0f) with lines linewidth 2 linecolor rgb '" LDS_BLUE
            "' title 'harmonics from the 2nd on, one period of the tone'\n",
            plot->data, factor);
}

static void write_mains_script(FILE *out, const struct lds_plot *plot)
{
    const struct lds_series *curve = lds_channel_series(plot->channel, "mains_waveform");
    double first, last;
    lds_plot_ends(curve, &first, &last);
    double step = (last - first) / (double)(curve->rows - 1);
    fprintf(out, "set xrange [0:%.6g]\nset xlabel 'time, ms' noenhanced\n", last + step);
    double factor = write_wave_axis(out, plot, curve, "mains waveform");
    fprintf(out,
            "plot '%s' using 1:($2*%.0f) with lines linewidth 2 linecolor rgb '" LDS_BLUE
            "' title 'mean over the capture, one period of the mains'\n",
            plot->data, factor);
}

const struct lds_picture lds_picture_harmonics = {"harmonics", "Harmonics", has_harmonics, write_harmonics_data,
                                                  write_harmonics_script};
const struct lds_picture lds_picture_residual = {"residual", "Residual", has_residual, write_residual_data,
                                                 write_residual_script};
const struct lds_picture lds_picture_mains = {"mains", "Mains waveform", has_mains, write_mains_data,
                                              write_mains_script};
