/* The axes of pictures: ranges, titles with units, labels of logarithmic ones. */
#include <math.h>
#include <stdio.h>

#include "report/plot.h"

static const double SHORT_DECADES = 1.5;      /* decades alone would give one label, or none */
static const double VERY_SHORT_DECADES = 0.6; /* so may 2 and 5 */

void lds_plot_axis_title(FILE *out, char axis, const char *what, const char *unit)
{
    fprintf(out, "set %clabel '%s%s%s' noenhanced\n", axis, what, unit[0] ? ", " : "", unit);
}

/* Numbers beside the powers of ten that get a label. */
static void write_more_labels(FILE *out, double first, double last)
{
    const double decades = log10(last / first);
    const char *between = "set xtics add (";
    if (!(first > 0.0) || !(decades < SHORT_DECADES))
        return;
    for (double ten = pow(10.0, floor(log10(first))); ten <= last; ten *= 10.0)
        for (int digit = 2; digit < 10; digit++) {
            const bool labelled = digit == 2 || digit == 5 || decades < VERY_SHORT_DECADES;
            if (!labelled || !(digit * ten >= first && digit * ten <= last))
                continue;
            fprintf(out, "%s%.6g", between, digit * ten);
            between = ", ";
        }
    fputs(between[0] == ',' ? ")\n" : "", out);
}

static void write_log_axis(FILE *out, double first, double last)
{
    fprintf(out, "set logscale x 10\nset xrange [%.6g:%.6g]\nset mxtics 10\n", first, last);
    write_more_labels(out, first, last);
}

void lds_plot_frequency_axis(FILE *out, double first_hz, double last_hz)
{
    write_log_axis(out, first_hz, last_hz);
    fputs("set format x '%.0s%c'\n"
          "set grid mxtics linecolor rgb '#dddddd' linetype 1 linewidth 0.5, linecolor rgb '#eeeeee' linetype 1 "
          "linewidth 0.5\n",
          out);
    lds_plot_axis_title(out, 'x', "frequency", "Hz");
}

void lds_plot_axis(FILE *out, const struct lds_series_kind *kind, bool calibrated, double first, double last)
{
    const struct lds_column *axis = &kind->column[kind->axis];
    if (kind->log_axis && axis->quantity == LDS_QUANTITY_HZ) {
        lds_plot_frequency_axis(out, first, last);
        return;
    }
    if (kind->log_axis && first > 0.0) /* decibels are not */
        write_log_axis(out, first, last);
    else
        fprintf(out, "set xrange [%.6g:%.6g]\n", first, last);
    lds_plot_axis_title(out, 'x', axis->name, lds_quantity_unit(axis->quantity, calibrated));
}

void lds_plot_y_range(FILE *out, double low, double high)
{
    double room = high > low ? 0.1 * (high - low) : 1.0;
    if (!(high >= low)) /* nothing is known */
        low = high = 0.0;
    fprintf(out, "set yrange [%.6g:%.6g]\n", low - room, high + room);
}
