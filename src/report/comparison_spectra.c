/* Pictures over frequency: both spectra, and both noise densities. */
#include <math.h>
#include <string.h>

#include "report/comparison_plot.h"
#include "report/plot.h"

/* Before is drawn wide and light, after narrow and dark over it, so that both show where they coincide. */
static const char *const spectrum_style[2] = {"linecolor rgb '" LDS_SKY "' linewidth 3",
                                              "linecolor rgb '" LDS_VERMILION "' linewidth 1"};
static const char *const density_style[2] = {"linecolor rgb '" LDS_BLUE "' linewidth 3",
                                             "linecolor rgb '" LDS_VERMILION "' linewidth 3 dashtype (8,5)"};

static bool one_unit(const struct lds_comparison_plot *plot)
{
    return plot->side[0].channel && plot->side[1].channel &&
           plot->side[0].channel->calibrated == plot->side[1].channel->calibrated;
}

static bool both_have(const struct lds_comparison_plot *plot, const char *key)
{
    return one_unit(plot) && lds_channel_series(plot->side[0].channel, key)->rows > 1 &&
           lds_channel_series(plot->side[1].channel, key)->rows > 1;
}

static bool has_spectra(const struct lds_comparison_plot *plot)
{
    return both_have(plot, "spectrum");
}

static bool has_densities(const struct lds_comparison_plot *plot)
{
    return both_have(plot, "floor");
}

static void write_key(FILE *out, const struct lds_plot_side *side)
{
    fputs(" title ", out);
    lds_plot_string(out, side->name, 100);
}

static void write_both(FILE *out, const char *data, const struct lds_comparison_plot *plot, const char *const style[2])
{
    for (int i = 0; i < 2; i++) {
        fprintf(out, "%s'%s' index %d using 1:2 with lines %s", i == 0 ? "plot " : ", ", data, i, style[i]);
        write_key(out, &plot->side[i]);
    }
    fputc('\n', out);
}

static void write_spectra_data(FILE *out, const struct lds_comparison_plot *plot)
{
    for (int i = 0; i < 2; i++) {
        const struct lds_channel *channel = plot->side[i].channel;
        fprintf(out, "%s# %s: frequency/Hz rms level of the bin/%s\n", i ? "\n\n" : "", plot->side[i].word,
                channel->calibrated ? "dBV" : "dBFS");
        lds_plot_rows(out, lds_channel_series(channel, "spectrum"), channel->calibrated, 2, lds_plot_curve);
    }
}

static void write_spectra_script(FILE *out, const char *data, const struct lds_comparison_plot *plot)
{
    bool volts = plot->side[0].channel->calibrated;
    double first_hz = INFINITY, last_hz = 0.0, low = INFINITY, high = -INFINITY;
    for (int i = 0; i < 2; i++) {
        const struct lds_series *curve = lds_channel_series(plot->side[i].channel, "spectrum");
        double lowest, highest, from_hz, to_hz;
        lds_plot_range(curve, LDS_CURVE_Y, &lowest, &highest);
        lds_plot_ends(curve, &from_hz, &to_hz);
        low = fmin(low, lowest);
        high = fmax(high, highest);
        first_hz = fmin(first_hz, from_hz);
        last_hz = fmax(last_hz, to_hz);
    }
    if (!(high > 0.0)) /* nothing but silence */
        low = high = 1e-9;
    lds_plot_frequency_axis(out, fmax(first_hz, 5.0), last_hz);
    fprintf(out, "set yrange [%.0f:%.0f]\nset ylabel 'rms level of a bin, %s' noenhanced\n",
            10.0 * floor(lds_plot_decibels(volts, low) / 10.0 - 0.5),
            10.0 * ceil(lds_plot_decibels(volts, high) / 10.0 + 0.3), volts ? "dBV" : "dBFS");
    fputs("set label 4 'lines read true; noise steps where the width of a bin changes' at graph 1, graph 1.02 right "
          "noenhanced\n",
          out);
    write_both(out, data, plot, spectrum_style);
}

static void write_densities_data(FILE *out, const struct lds_comparison_plot *plot)
{
    for (int i = 0; i < 2; i++) {
        const struct lds_channel *channel = plot->side[i].channel;
        fprintf(out, "%s# %s: frequency/Hz density without lines/%s from/Hz to/Hz\n", i ? "\n\n" : "",
                plot->side[i].word, channel->calibrated ? "(V/rtHz)" : "(dBFS in 1 Hz)");
        lds_plot_rows(out, lds_channel_series(channel, "floor"), channel->calibrated, 4, lds_plot_floor);
    }
}

/* A logarithmic axis with numbers at 1, 2 and 5 of each decade: the floor seldom spans two. */
static void write_density_tics(FILE *out, double low, double high)
{
    static const double steps[] = {1.0, 2.0, 5.0};
    const char *between = "";
    fprintf(out, "set logscale y 10\nset yrange [%.3g:%.3g]\nset format y '%%.0s%%c'\nset micro\nset ytics (", low,
            high);
    for (int decade = (int)floor(log10(low)); decade <= (int)ceil(log10(high)); decade++)
        for (size_t i = 0; i < sizeof steps / sizeof steps[0]; i++) {
            double tic = steps[i] * pow(10.0, decade);
            if (tic < low || tic > high)
                continue;
            fprintf(out, "%s%.0e", between, tic);
            between = ", ";
        }
    fputs(")\n", out);
}

static void write_densities_script(FILE *out, const char *data, const struct lds_comparison_plot *plot)
{
    bool volts = plot->side[0].channel->calibrated;
    double first_hz = INFINITY, last_hz = 0.0, low = INFINITY, high = 0.0;
    for (int i = 0; i < 2; i++) {
        const struct lds_series *floor = lds_channel_series(plot->side[i].channel, "floor");
        double lowest, highest;
        lds_plot_range(floor, LDS_FLOOR_DENSITY, &lowest, &highest);
        low = fmin(low, lowest);
        high = fmax(high, highest);
        first_hz = fmin(first_hz, lds_series_value(floor, 0, LDS_FLOOR_LOW_HZ));
        last_hz = fmax(last_hz, lds_series_value(floor, floor->rows - 1, LDS_FLOOR_HIGH_HZ));
    }
    if (!(high > 0.0))
        low = high = 1e-9;
    lds_plot_frequency_axis(out, fmax(first_hz, 5.0), last_hz);
    if (volts)
        write_density_tics(out, low / 1.6, high * 1.6);
    else
        fprintf(out, "set yrange [%.0f:%.0f]\n", 5.0 * floor(lds_plot_decibels(false, low) / 5.0 - 0.4),
                5.0 * ceil(lds_plot_decibels(false, high) / 5.0 + 0.4));
    fprintf(out, "set ylabel 'noise density, lines out, %s' noenhanced\n", volts ? "V/√Hz" : "dBFS in 1 Hz");
    write_both(out, data, plot, density_style);
}

const struct lds_comparison_picture lds_picture_both_spectra = {
    "spectra", "Spectra before and after", has_spectra, write_spectra_data, write_spectra_script, false};
const struct lds_comparison_picture lds_picture_both_densities = {
    "densities", "Noise density before and after", has_densities, write_densities_data, write_densities_script, false};
