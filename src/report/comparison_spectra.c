/* Pictures over frequency: both spectra, and both noise densities. */
#include <math.h>
#include <string.h>

#include "report/plot_levels.h"

/* Spectra of a sweep would only show what was played. */
static bool is_steady(const struct lds_plot *plot)
{
    return lds_signal_is_steady(plot->side[0].channel->signal.kind);
}

static void draw_spectra(struct lds_plot_sheet *sheet, const struct lds_plot *plot)
{
    for (int i = 0; i < 2; i++) {
        const struct lds_channel *channel = plot->side[i].channel;
        fprintf(sheet->data, "%s# %s, noise in 1 Hz, lines out: frequency/Hz level/%s\n", i ? "\n\n" : "",
                plot->side[i].word, channel->calibrated ? "dBV" : "dBFS");
        lds_plot_floor_write(sheet->data, channel);
    }
    lds_plot_lines_compared(sheet, plot);
}

/* A logarithmic axis with labels at 1, 2 and 5 of each decade: the floor rarely spans two. */
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

static void draw_densities(struct lds_plot_sheet *sheet, const struct lds_plot *plot)
{
    bool volts = plot->side[0].channel->calibrated;
    double first_hz = INFINITY, last_hz = 0.0, low = INFINITY, high = 0.0;
    for (int i = 0; i < 2; i++) {
        const struct lds_series *curve = lds_channel_find_series(plot->side[i].channel, LDS_SERIES_FLOOR);
        double lowest, highest;
        fprintf(sheet->data, "%s# %s: frequency/Hz density without lines/%s from/Hz to/Hz\n", i ? "\n\n" : "",
                plot->side[i].word, volts ? "(V/rtHz)" : "(dBFS in 1 Hz)");
        lds_plot_rows(sheet->data, curve, plot->side[i].channel->calibrated, 4, lds_plot_floor);
        lds_plot_range(curve, curve->kind->value, &lowest, &highest);
        low = fmin(low, lowest);
        high = fmax(high, highest);
        first_hz = fmin(first_hz, lds_series_value(curve, 0, LDS_FLOOR_LOW_HZ));
        last_hz = fmax(last_hz, lds_series_value(curve, curve->rows - 1, LDS_FLOOR_HIGH_HZ));
    }
    if (!(high > 0.0)) /* nothing but silence */
        low = high = 1e-9;
    lds_plot_frequency_axis(sheet->script, fmax(first_hz, 5.0), last_hz);
    if (volts)
        write_density_tics(sheet->script, low / 1.25, high * 1.25);
    else
        fprintf(sheet->script, "set yrange [%.0f:%.0f]\n", 5.0 * floor(lds_plot_decibels(false, low) / 5.0 - 0.4),
                5.0 * ceil(lds_plot_decibels(false, high) / 5.0 + 0.4));
    fprintf(sheet->script, "set ylabel 'noise density, lines out, %s' noenhanced\n", volts ? "V/√Hz" : "dBFS in 1 Hz");
    lds_plot_side_curves(sheet, plot);
}

const struct lds_picture lds_picture_both_spectra = {
    "spectra", "Spectra before and after", is_steady, draw_spectra, LDS_SERIES_SPECTRUM, false, true};
const struct lds_picture lds_picture_both_densities = {
    "densities", "Noise density before and after", NULL, draw_densities, LDS_SERIES_FLOOR, false, true};
