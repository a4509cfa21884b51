/* Waveforms over one period: the residual and the mains, of one capture or before and after. */
#include <math.h>

#include "report/plot.h"

struct wave {
    const struct lds_series *series;
    size_t first; /* row that is drawn first */
};

/* The row at which the fundamental rises through zero. */
static size_t rise_of(const struct lds_series *series)
{
    double real = 0.0, imaginary = 0.0, rows = (double)series->rows;
    for (size_t i = 0; i < series->rows; i++) {
        double y = lds_series_value(series, i, LDS_CURVE_Y), angle = 2.0 * M_PI * (double)i / rows;
        real += y * cos(angle);
        imaginary += y * sin(angle);
    }
    /* real cos(angle) + imaginary sin(angle) rises through zero at atan2(-real, imaginary). */
    double share = atan2(-real, imaginary) / (2.0 * M_PI);
    return (size_t)lround((share - floor(share)) * rows) % series->rows;
}

static double period_of(const struct lds_series *series)
{
    double first, last;
    lds_plot_ends(series, &first, &last);
    return (last - first) * (double)series->rows / (double)(series->rows - 1);
}

/* A block with the values times a factor; the first comes again at the end of the period. */
static void write_wave(FILE *out, const struct wave *wave, double factor)
{
    const struct lds_series *series = wave->series;
    double first = lds_series_value(series, 0, LDS_CURVE_X), step = period_of(series) / (double)series->rows;
    for (size_t i = 0; i <= series->rows; i++) {
        double y = lds_series_value(series, (i + wave->first) % series->rows, LDS_CURVE_Y);
        lds_plot_numbers(out, (double[]){first + (double)i * step, y * factor}, 2);
    }
}

/* The curves, and a vertical axis with a prefix that keeps its numbers short. */
static void draw_waves(struct lds_plot_sheet *sheet, const struct lds_plot *plot, const struct wave *wave,
                       const char *x, const char *what, const char *title)
{
    double factor, largest = 0.0;
    bool calibrated = plot->side[0].channel->calibrated;
    int waves = plot->compared ? 2 : 1;
    for (int s = 0; s < waves; s++)
        for (size_t i = 0; i < wave[s].series->rows; i++)
            largest = fmax(largest, fabs(lds_series_value(wave[s].series, i, LDS_CURVE_Y)));
    const char *prefix = lds_plot_prefix(largest, &factor);
    largest = largest > 0.0 ? largest * factor : 1.0;
    const struct lds_short unit = calibrated ? lds_short("%sV", prefix) : lds_short("%.0e of full scale", 1.0 / factor);
    fprintf(sheet->script, "set yrange [%.6g:%.6g]\nset ylabel '%s, %s' noenhanced\n", -1.1 * largest, 1.1 * largest,
            what, unit.text);
    fputs("set xzeroaxis linetype 1 linewidth 1 linecolor rgb 'black'\n", sheet->script);
    for (int s = 0; s < waves; s++) {
        fprintf(sheet->data, "%s# %s: %s %s/(%s)\n", s ? "\n\n" : "", plot->compared ? plot->side[s].word : title, x,
                what, unit.text);
        write_wave(sheet->data, &wave[s], factor);
    }
    if (plot->compared)
        lds_plot_side_curves(sheet, plot);
    else
        lds_plot_curve(sheet, "'%s' using 1:2 with lines linewidth 2.5 linecolor rgb '" LDS_BLUE "' title '%s'",
                       sheet->file, title);
}

static void draw_residual(struct lds_plot_sheet *sheet, const struct lds_plot *plot)
{
    struct wave wave[2] = {{NULL, 0}, {NULL, 0}};
    for (int s = 0; s < (plot->compared ? 2 : 1); s++)
        wave[s].series = lds_channel_find_series(plot->side[s].channel, LDS_SERIES_RESIDUAL);
    fputs("set xrange [0:360]\nset xtics 45\nset format x '%g°'\n"
          "set xlabel 'phase of the tone, from its positive peak' noenhanced\n"
          "set arrow 1 from first 90, graph 0 to first 90, graph 1 nohead linecolor rgb 'black' dashtype 3\n"
          "set arrow 2 from first 270, graph 0 to first 270, graph 1 nohead linecolor rgb 'black' dashtype 3\n"
          "set label 4 'the tone crosses zero' at first 90, graph 1.025 center noenhanced\n"
          "set label 5 'the tone crosses zero' at first 270, graph 1.025 center noenhanced\n",
          sheet->script);
    draw_waves(sheet, plot, wave, "phase of the tone/degree (cosine)", "residual",
               "harmonics from the 2nd on, one period of the tone");
}

static void draw_mains(struct lds_plot_sheet *sheet, const struct lds_plot *plot)
{
    struct wave wave[2] = {{NULL, 0}, {NULL, 0}};
    double period = 0.0;
    for (int s = 0; s < (plot->compared ? 2 : 1); s++) {
        const struct lds_series *series = lds_channel_find_series(plot->side[s].channel, LDS_SERIES_MAINS_WAVEFORM);
        /* Captures begin anywhere in the period. */
        wave[s] = (struct wave){series, rise_of(series)};
        period = fmax(period, period_of(series));
    }
    fprintf(sheet->script,
            "set xrange [0:%.9g]\nset xtics %.9g\nset format x '%%.3g'\nset xlabel 'time from where the fundamental "
            "rises through zero, ms' noenhanced\n",
            period, period / 4.0 * (1.0 - 1e-9));
    draw_waves(sheet, plot, wave, "time/ms", "mains waveform", "mean over the capture, one period of the mains");
}

const struct lds_picture lds_picture_residual = {"residual",          "Residual", NULL, draw_residual,
                                                 LDS_SERIES_RESIDUAL, false,      false};
const struct lds_picture lds_picture_mains = {
    "mains", "Mains waveform", NULL, draw_mains, LDS_SERIES_MAINS_WAVEFORM, false, false};
const struct lds_picture lds_picture_both_residuals = {
    "residual", "Residual before and after", NULL, draw_residual, LDS_SERIES_RESIDUAL, false, true};
const struct lds_picture lds_picture_both_mains = {
    "mains", "Mains waveform before and after", NULL, draw_mains, LDS_SERIES_MAINS_WAVEFORM, false, true};
