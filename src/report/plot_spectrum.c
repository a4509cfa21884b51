/* The noise density with its bands, and what all pictures over frequency need. */
#include <math.h>
#include <string.h>

#include "report/figures.h"
#include "report/plot.h"
#include "report/reading.h"

static bool has_density(const struct lds_plot *plot)
{
    return lds_channel_find_series(plot->side->channel, LDS_SERIES_DENSITY)->rows > 1 ||
           lds_channel_find_series(plot->side->channel, LDS_SERIES_FLOOR)->rows > 1;
}

static const int curve_columns[2] = {LDS_CURVE_X, LDS_CURVE_Y};
const int lds_plot_floor[4] = {LDS_FLOOR_HZ, LDS_FLOOR_DENSITY, LDS_FLOOR_LOW_HZ, LDS_FLOOR_HIGH_HZ};

double lds_plot_decibels(bool calibrated, double level)
{
    return calibrated ? 20.0 * log10(level) : lds_dbfs(level);
}

double lds_plot_drawn(enum lds_quantity quantity, bool calibrated, double number)
{
    if (quantity == LDS_QUANTITY_LEVEL)
        return lds_plot_decibels(calibrated, number);
    if (quantity != LDS_QUANTITY_DENSITY)
        return number;
    return !calibrated ? lds_dbfs(number) : number > 0.0 ? number : NAN;
}

static void write_cell(FILE *out, const struct lds_column *column, bool calibrated, struct lds_cell cell)
{
    const double numbers[] = {cell.value, cell.low, cell.high};
    for (int k = 0; k < (column->limits ? 3 : 1); k++) {
        fputs(k ? " " : "", out);
        lds_plot_number(out, lds_plot_drawn(column->quantity, calibrated, numbers[k]));
    }
}

void lds_plot_rows(FILE *out, const struct lds_series *series, bool calibrated, int columns, const int *column)
{
    for (size_t i = 0; i < series->rows; i++)
        for (int c = 0; c < columns; c++) {
            write_cell(out, &series->kind->column[column[c]], calibrated, lds_series_cell(series, i, column[c]));
            fputc(c + 1 < columns ? ' ' : '\n', out);
        }
    for (int c = 0; series->rows == 0 && c < columns; c++)
        fputs(c + 1 < columns ? "NaN " : "NaN\n", out);
}

void lds_plot_range(const struct lds_series *series, int column, double *low, double *high)
{
    *low = INFINITY;
    *high = -INFINITY;
    for (size_t i = 0; i < series->rows; i++) {
        double y = lds_series_value(series, i, column);
        if (isfinite(y) && y > 0.0) {
            *low = fmin(*low, y);
            *high = fmax(*high, y);
        }
    }
}

void lds_plot_ends(const struct lds_series *series, double *first, double *last)
{
    *first = lds_series_value(series, 0, series->kind->axis);
    *last = lds_series_value(series, series->rows - 1, series->kind->axis);
}

static bool is_noise_band(const struct lds_figure *figure)
{
    return figure->name.row->id == LDS_FIGURE_NOISE && isfinite(figure->value) && figure->band_hz[0] > 0.0 &&
           figure->band_hz[1] > figure->band_hz[0];
}

/* Bands as spans at the bottom of the picture, one row higher for each that overlaps; returns the number of rows. */
static int write_bands(FILE *out, const struct lds_channel *channel)
{
    double row_end_hz[8] = {0.0};
    int rows = 0, label = 10;
    for (const struct lds_figure *figure = NULL;
         (figure = lds_next_figure(figure, channel->figure, channel->figures)) != NULL;) {
        if (!is_noise_band(figure))
            continue;
        const double *band_hz = figure->band_hz;
        int row = 0;
        while (row < 7 && band_hz[0] < row_end_hz[row] * 0.999)
            row++;
        row_end_hz[row] = band_hz[1];
        rows = row >= rows ? row + 1 : rows;
        bool volts = strcmp(figure->unit, "V") == 0;
        struct lds_reading reading =
            lds_reading(figure->value, figure->low, figure->high, figure->unit, volts ? 0.0 : NAN, false);
        double y = 0.02 + 0.055 * row;
        fprintf(out,
                "set arrow %d from first %.9g, graph %.3f to first %.9g, graph %.3f heads size graph 0.004,90 filled "
                "linecolor rgb 'black' linewidth 1.5 front\n"
                "set label %d '%s %s' at first %.9g, graph %.3f center noenhanced front\n",
                label, band_hz[0], y, band_hz[1], y, label, reading.value, reading.unit, sqrt(band_hz[0] * band_hz[1]),
                y + 0.025);
        label++;
    }
    return rows;
}

/* Lines are far above the noise, which this picture is about. So the axis ends a good decade above the floor, or above
 * the density if there is no floor, and the picture says so. rows: of bands at the bottom. */
static void write_density_range(FILE *out, const struct lds_channel *channel, int rows)
{
    const struct lds_series *floor_of = lds_channel_find_series(channel, LDS_SERIES_FLOOR),
                            *density = lds_channel_find_series(channel, LDS_SERIES_DENSITY);
    double low, high, line_low, line_high;
    lds_plot_range(density, LDS_CURVE_Y, &line_low, &line_high);
    lds_plot_range(floor_of->rows > 1 ? floor_of : density,
                   floor_of->rows > 1 ? (int)LDS_FLOOR_DENSITY : (int)LDS_CURVE_Y, &low, &high);
    if (!(high > 0.0))
        low = high = 1e-9;
    /* The floor stands just above the bands. */
    double top = 12.0 * high, share = 0.1 + 0.055 * rows, bottom = pow(low / pow(top, share), 1.0 / (1.0 - share));
    if (channel->calibrated)
        fprintf(out, "set logscale y 10\nset mytics 10\nset yrange [%.3g:%.3g]\nset format y '%%.0s%%c'\nset micro\n",
                bottom, top);
    else
        fprintf(out, "set yrange [%.0f:%.0f]\n", 5.0 * floor(lds_dbfs(bottom) / 5.0), 5.0 * ceil(lds_dbfs(top) / 5.0));
    if (line_high > top)
        fputs("set label 4 'lines taller than the frame are cut off' at graph 1, graph 1.02 right noenhanced\n", out);
}

static void draw_density(struct lds_plot_sheet *sheet, const struct lds_plot *plot)
{
    const struct lds_channel *channel = plot->side->channel;
    const struct lds_series *density = lds_channel_find_series(channel, LDS_SERIES_DENSITY),
                            *floor = lds_channel_find_series(channel, LDS_SERIES_FLOOR);
    bool volts = channel->calibrated;
    const char *unit = volts ? "(V/rtHz)" : "(dBFS in 1 Hz)";
    double first_hz = NAN, last_hz = NAN;
    fprintf(sheet->data, "# frequency/Hz density with lines/%s\n", unit);
    lds_plot_rows(sheet->data, density, volts, 2, curve_columns);
    fprintf(sheet->data, "\n\n# the floor: frequency/Hz density without lines/%s from/Hz to/Hz\n", unit);
    lds_plot_rows(sheet->data, floor, volts, 4, lds_plot_floor);
    if (density->rows > 1)
        lds_plot_ends(density, &first_hz, &last_hz);
    else
        last_hz = lds_series_value(floor, floor->rows - 1, LDS_FLOOR_HIGH_HZ);
    if (floor->rows > 1)
        first_hz = lds_series_value(floor, 0, LDS_FLOOR_LOW_HZ);
    if (first_hz > 10.0 && first_hz < 12.0) /* so that the first decade is labelled */
        first_hz = 10.0;
    lds_plot_frequency_axis(sheet->script, fmax(first_hz, 5.0), last_hz);
    int rows = write_bands(sheet->script, channel);
    write_density_range(sheet->script, channel, rows);
    fprintf(sheet->script, "set ylabel 'noise density, %s' noenhanced\n", volts ? "V/√Hz" : "dBFS in 1 Hz");
    if (density->rows > 1)
        lds_plot_curve(sheet,
                       "'%s' index 0 using 1:2 with lines linecolor rgb '" LDS_GREY "' linewidth 1 title 'with lines'",
                       sheet->file);
    if (floor->rows > 1)
        lds_plot_curve(sheet,
                       "'%s' index 1 using 1:2 with lines linecolor rgb '" LDS_BLUE
                       "' linewidth 3 title 'floor, lines out'",
                       sheet->file);
    if (rows > 0)
        lds_plot_curve(
            sheet,
            "NaN with lines linecolor rgb 'black' linewidth 1.5 title 'span of a band, with its noise, lines out'");
}

const struct lds_picture lds_picture_density = {"density",        "Noise density", has_density, draw_density,
                                                LDS_SERIES_OTHER, false,           false};
