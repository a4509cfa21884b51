#include "report/series_cells.h"

#include <math.h>
#include <stdlib.h>

#include "record/quantities.h"
#include "report/figures.h"
#include "report/reading.h"
#include "scarce.h"

enum { ROWS_SHOWN = 16 };

bool lds_row_is_seen(const struct lds_series *series, size_t row)
{
    bool below = series->flag && series->flag[row] & LDS_FLAG_BELOW_FLOOR;
    return isfinite(lds_series_value(series, row, series->kind->value)) && !below;
}

/* ---- which rows ---- */

static bool has_order(const struct lds_series *series, size_t row)
{
    bool ordered = series->kind->match == LDS_MATCH_ORDER || series->kind->match == LDS_MATCH_NAME;
    return !ordered || lds_series_value(series, row, LDS_LINE_ORDER) >= series->kind->first_order;
}

static bool can_be_shown(const struct lds_series *series, size_t row)
{
    return has_order(series, row) && (series->kind->match == LDS_MATCH_NEAREST || lds_row_is_seen(series, row));
}

double lds_series_largest(const struct lds_series *series)
{
    double largest = 0.0;
    for (size_t i = 0; i < series->rows; i++)
        if (can_be_shown(series, i))
            largest = fmax(largest, fabs(lds_series_value(series, i, series->kind->value)));
    return largest;
}

/* How far a row stands out; the rows that stand out least are left out. */
static double weight(const struct lds_series *series, size_t row)
{
    bool spurs = series->kind->match == LDS_MATCH_NEAREST;
    double value = lds_series_value(series, row, spurs ? LDS_SPUR_MARGIN : series->kind->value);
    return isnan(value) ? -INFINITY : value;
}

static int by_weight(const void *left, const void *right, void *series)
{
    const size_t *a = left, *b = right;
    double one = weight(series, *a), other = weight(series, *b);
    return one < other ? 1 : one > other ? -1 : *a < *b ? -1 : 1;
}

static int by_row(const void *left, const void *right)
{
    const size_t *a = left, *b = right;
    return *a < *b ? -1 : *a > *b;
}

/* Keeps `left` of them, spread evenly. */
static void thin(size_t *row, size_t count, size_t left)
{
    for (size_t i = 0; i < left; i++)
        row[i] = row[i * (count - 1) / (left - 1)];
}

size_t *lds_series_strongest(const struct lds_series *series, size_t most, size_t *shown, size_t *more)
{
    size_t *row = malloc((series->rows + 1) * sizeof *row), count = 0;
    *shown = *more = 0;
    if (!row) {
        lds_scarce_note();
        return NULL;
    }
    for (size_t i = 0; i < series->rows; i++)
        if (can_be_shown(series, i))
            row[count++] = i;
    *shown = count > most ? most : count;
    *more = count - *shown;
    if (series->kind->form == LDS_FORM_OVER_AXIS) {
        if (*more > 0)
            thin(row, count, *shown);
        return row;
    }
    qsort_r(row, count, sizeof *row, by_weight, (void *)(uintptr_t)series);
    if (series->kind->match == LDS_MATCH_ORDER)
        qsort(row, *shown, sizeof *row, by_row);
    return row;
}

size_t *lds_series_pick(const struct lds_series *series, size_t *shown, size_t *more)
{
    return lds_series_strongest(series, lds_table_view_of(series->kind)->more ? ROWS_SHOWN : SIZE_MAX, shown, more);
}

/* ---- cells ---- */

struct lds_short lds_line_frequency(double frequency_hz)
{
    return frequency_hz < 1e4 ? lds_short("%.1f Hz", frequency_hz) : lds_short("%.3f kHz", frequency_hz / 1e3);
}

static struct lds_reading read_cell(struct lds_cell cell, enum lds_quantity quantity, bool calibrated, double largest)
{
    const char *unit = lds_quantity_unit(quantity, calibrated);
    bool level = lds_quantity_row(quantity)->level;
    if (level && !calibrated)
        cell = (struct lds_cell){lds_dbfs(cell.value), lds_dbfs(cell.low), lds_dbfs(cell.high)};
    bool scaled = level ? calibrated : quantity == LDS_QUANTITY_POWER && calibrated;
    return lds_reading(cell.value, cell.low, cell.high, unit, scaled ? largest : (double)NAN, false);
}

struct lds_label lds_series_cell_words(const struct lds_series *series, size_t row, const struct lds_cell_view *view,
                                       bool calibrated, double largest)
{
    const struct lds_column *column = &series->kind->column[view->column];
    struct lds_cell cell = lds_series_cell(series, row, view->column);
    const enum lds_quantity quantity = column->quantity;
    if (quantity == LDS_QUANTITY_ORDER)
        return lds_label("%d", (int)cell.value);
    if (quantity == LDS_QUANTITY_HZ)
        return lds_label("%s", lds_line_frequency(cell.value).text);
    if ((quantity == LDS_QUANTITY_DEGREES || quantity == LDS_QUANTITY_DB) && !column->limits && !isfinite(cell.value))
        return (struct lds_label){""};
    if (quantity == LDS_QUANTITY_DEGREES && !column->limits) /* as an integer, so that there is no "-0" */
        return lds_label("%d°", (int)lround(cell.value));
    if (quantity == LDS_QUANTITY_DB && !column->limits)
        return lds_label("%.1f", cell.value);
    if (view->part == LDS_CELL_PERCENT)
        return lds_label("%s", lds_percent_words(cell.value, cell.low, cell.high).text);
    const struct lds_reading reading = read_cell(cell, quantity, calibrated, largest);
    return lds_label("%s", view->part == LDS_CELL_VALUE      ? reading.value
                           : view->part == LDS_CELL_INTERVAL ? reading.interval
                                                             : reading.unit);
}

struct lds_label lds_series_flag_words(const struct lds_series *series, size_t row)
{
    const unsigned chain = LDS_FLAG_CHAIN_NOT_MEASURED | LDS_FLAG_CHAIN_NOT_COMPARABLE;
    struct lds_scrap scrap;
    if (!lds_scrap_open(&scrap))
        return (struct lds_label){""};
    lds_flags_print(scrap.out, lds_series_flags(series, row) & ~chain, ", ");
    const struct lds_label words = lds_label("%s", lds_scrap_close(&scrap) ? scrap.text : "");
    free(scrap.text);
    return words;
}

/* ---- orders that were not found ---- */

/* A mains order at the frequency of the tone or of a harmonic cannot be found. */
static bool is_hidden(const struct lds_series *lines, size_t row)
{
    struct lds_cell level = lds_series_cell(lines, row, LDS_LINE_LEVEL);
    return has_order(lines, row) && !isfinite(level.value) && !isfinite(level.high) &&
           lines->flag[row] & LDS_FLAG_NEAR_LINE;
}

static bool is_unseen(const struct lds_series *lines, size_t row)
{
    return has_order(lines, row) && !lds_row_is_seen(lines, row) && !is_hidden(lines, row);
}

/* "9, 11 to 20" after the title: the orders for which `is` holds. false: there are none. */
static bool write_orders(FILE *out, const char *title, const struct lds_series *lines,
                         bool (*is)(const struct lds_series *lines, size_t row))
{
    size_t runs = 0, orders = 0;
    for (size_t i = 0; i < lines->rows; i++)
        orders += is(lines, i);
    for (size_t i = 0; i < lines->rows; i++) {
        if (!is(lines, i))
            continue;
        size_t last = i;
        int first_order = (int)lds_series_value(lines, i, LDS_LINE_ORDER), last_order = first_order;
        while (last + 1 < lines->rows && is(lines, last + 1) &&
               (int)lds_series_value(lines, last + 1, LDS_LINE_ORDER) == last_order + 1) {
            last++;
            last_order++;
        }
        if (runs++ == 0)
            fprintf(out, orders == 1 ? "%s: order " : "%s: orders ", title);
        fprintf(out, runs > 1 ? ", %d" : "%d", first_order);
        if (last > i)
            fprintf(out, last == i + 1 ? ", %d" : " to %d", last_order);
        i = last;
    }
    return runs > 0;
}

/* "(each < -130 dB)": the highest of the limits, relative to the fundamental if there is one. */
static void write_limit(FILE *out, const struct lds_series *lines, bool calibrated)
{
    bool relative = lines->kind->columns > LDS_LINE_RELATIVE;
    int column = relative ? LDS_LINE_RELATIVE : LDS_LINE_LEVEL;
    double limit = NAN;
    for (size_t i = 0; i < lines->rows; i++)
        if (is_unseen(lines, i))
            limit = fmax(limit, lds_series_cell(lines, i, column).high); /* fmax ignores NAN */
    if (!isfinite(limit))
        return;
    const struct lds_reading reading =
        read_cell((struct lds_cell){NAN, NAN, limit}, lines->kind->column[column].quantity, calibrated, 0.0);
    fprintf(out, " (each %s %s)", reading.value, reading.unit);
}

void lds_series_unseen_say(const struct lds_series *series, bool calibrated, const struct lds_listener *listener)
{
    struct lds_scrap scrap;
    if (series->kind->match != LDS_MATCH_ORDER)
        return;
    if (lds_scrap_open(&scrap)) {
        if (write_orders(scrap.out, "Not found above the noise", series, is_unseen))
            write_limit(scrap.out, series, calibrated);
        lds_text_scrap_say(&scrap, listener);
    }
    if (series->kind->columns <= LDS_LINE_RELATIVE && lds_scrap_open(&scrap)) {
        write_orders(scrap.out, "Hidden by the tone and its harmonics", series, is_hidden);
        lds_text_scrap_say(&scrap, listener);
    }
}
