#include "saved/series.h"

#include <math.h>
#include <string.h>

#include "record/series.h"
#include "saved/names.h"

/* An element of an array: a number, or null if it may be unknown, which the axis never is. */
static double read_element(struct lds_saved_reader *reader, const json_t *element, const char *member,
                           enum lds_quantity quantity, bool is_axis)
{
    const struct lds_quantity_row *row = lds_quantity_row(quantity);
    if (json_is_null(element) && !row->stated && !is_axis)
        return NAN;
    if (!json_is_number(element)) {
        lds_saved_wrong(reader, member, "an array of numbers");
        return NAN;
    }
    double number = json_number_value(element);
    return lds_saved_in_range(reader, member, number, row->least, row->most) ? number : (double)NAN;
}

/* Adds a row; the axis must rise from row to row. */
static void add_point(struct lds_saved_reader *reader, struct lds_series *series, const char *axis, double x, double y)
{
    const struct lds_series_kind *kind = series->kind;
    double value[LDS_COLUMNS] = {0.0};
    value[kind->axis] = x;
    value[kind->value] = y;
    if (!lds_series_add_row(series, value))
        lds_saved_no_memory(reader);
    else if (series->rows > 1 && !(x > lds_series_value(series, series->rows - 2, kind->axis)))
        lds_saved_wrong(reader, axis, "rising");
}

static struct lds_series *new_series(struct lds_saved_reader *reader, const struct lds_saved_list *list,
                                     const char *key)
{
    struct lds_series *series = lds_series_add(list->series, list->count, key);
    if (!series)
        lds_saved_no_memory(reader);
    return series;
}

/* Two arrays of the same length. */
static void read_curve(struct lds_saved_reader *reader, const json_t *object, struct lds_series *series,
                       bool calibrated)
{
    const struct lds_series_kind *kind = series->kind;
    const struct lds_column *x = &kind->column[kind->axis], *y = &kind->column[kind->value];
    enum lds_scale_of_levels scale = calibrated ? LDS_IN_VOLTS : LDS_IN_FULL_SCALES;
    char x_name[LDS_JSON_NAME], y_name[LDS_JSON_NAME];
    lds_json_name(x->name, x->quantity, scale, x_name);
    lds_json_name(y->name, y->quantity, scale, y_name);
    const json_t *xs = lds_saved_array(reader, object, x_name), *ys = lds_saved_array(reader, object, y_name);
    if (json_array_size(xs) != json_array_size(ys))
        lds_saved_wrong(reader, y_name, "as long as its frequencies, phases or times");
    for (size_t i = 0; reader->status == LDS_OK && i < json_array_size(xs); i++) {
        double x_value = read_element(reader, json_array_get(xs, i), x_name, x->quantity, true);
        double y_value = read_element(reader, json_array_get(ys, i), y_name, y->quantity, false);
        add_point(reader, series, x_name, x_value, y_value);
    }
}

static void check_text(struct lds_saved_reader *reader, const json_t *object, const char *member, const char *expected)
{
    char text[LDS_JSON_NAME];
    lds_saved_text_into(reader, object, member, text, sizeof text);
    if (strcmp(text, expected) != 0)
        lds_saved_wrong(reader, member, "that of its key");
}

/* Rows of x, value, low and high. */
static void read_over_axis(struct lds_saved_reader *reader, const json_t *object, struct lds_series *series,
                           bool calibrated)
{
    const struct lds_series_kind *kind = series->kind;
    const struct lds_column *x = &kind->column[kind->axis], *y = &kind->column[kind->value];
    check_text(reader, object, "x", x->name);
    check_text(reader, object, "x_unit", lds_quantity_unit(x->quantity, calibrated));
    check_text(reader, object, "unit", lds_quantity_unit(y->quantity, calibrated));
    const json_t *rows = lds_saved_array(reader, object, "rows");
    size_t outside = lds_saved_enter(reader, "rows");
    for (size_t i = 0; reader->status == LDS_OK && i < json_array_size(rows); i++) {
        size_t here = lds_saved_enter_element(reader, i);
        const json_t *row = json_array_get(rows, i);
        double number[4];
        if (json_array_size(row) != 4)
            lds_saved_wrong(reader, NULL, "an array of x, value, low and high");
        for (size_t k = 0; k < 4; k++)
            number[k] = read_element(reader, json_array_get(row, k), NULL, k == 0 ? x->quantity : y->quantity, k == 0);
        lds_saved_rising(reader, NULL, number[2], number[1]);
        lds_saved_rising(reader, NULL, number[1], number[3]);
        add_point(reader, series, NULL, number[0], number[1]);
        if (reader->status == LDS_OK)
            lds_series_set_limits(series, i, kind->value, number[2], number[3]);
        lds_saved_leave(reader, here);
    }
    lds_saved_leave(reader, outside);
    series->flags = lds_saved_flags(reader, object);
    if (!kind->flags || !lds_saved_has(reader, object, "row_flags"))
        return;
    const json_t *flags = lds_saved_array(reader, object, "row_flags");
    if (json_array_size(flags) != json_array_size(rows))
        lds_saved_wrong(reader, "row_flags", "as long as its rows");
    for (size_t i = 0; reader->status == LDS_OK && i < series->rows; i++)
        series->flag[i] = lds_saved_flag_words(reader, json_array_get(flags, i), "row_flags");
}

/* Reads the series of one form, which are in an object of their own by key. Unknown keys are from a later version, and
 * ignored. */
static void read_form(struct lds_saved_reader *reader, const json_t *owner, const char *member,
                      enum lds_series_form form, const struct lds_saved_list *list)
{
    if (!lds_saved_has(reader, owner, member))
        return;
    const json_t *all = lds_saved_object(reader, owner, member);
    size_t kinds, outside = lds_saved_enter(reader, member);
    const struct lds_series_kind *kind = lds_series_kinds(&kinds);
    for (size_t k = 0; k < kinds; k++) {
        if (kind[k].form != form || !lds_saved_has(reader, all, kind[k].key))
            continue;
        const json_t *object = lds_saved_object(reader, all, kind[k].key);
        size_t here = lds_saved_enter(reader, kind[k].key);
        struct lds_series *series = new_series(reader, list, kind[k].key);
        if (series && form == LDS_FORM_CURVE)
            read_curve(reader, object, series, list->calibrated);
        else if (series)
            read_over_axis(reader, object, series, list->calibrated);
        lds_saved_leave(reader, here);
    }
    lds_saved_leave(reader, outside);
}

/* ---- lists of lines ---- */

static double read_number(struct lds_saved_reader *reader, const json_t *object, const char *name,
                          enum lds_quantity quantity, bool calibrated)
{
    const struct lds_quantity_row *row = lds_quantity_row(quantity);
    char volts[LDS_JSON_NAME], dbfs[LDS_JSON_NAME];
    lds_json_name(name, quantity, LDS_IN_VOLTS, volts);
    lds_json_name(name, quantity, LDS_IN_DBFS, dbfs);
    if (row->level)
        return lds_saved_level(reader, object, calibrated, volts, dbfs);
    if (quantity == LDS_QUANTITY_ORDER)
        return (double)lds_saved_whole(reader, object, volts, (int64_t)row->least, (int64_t)row->most);
    return row->stated ? lds_saved_stated(reader, object, volts, row->least, row->most)
                       : lds_saved_number(reader, object, volts, row->least, row->most);
}

static void read_limits(struct lds_saved_reader *reader, const json_t *object, struct lds_series *series, int c,
                        bool calibrated)
{
    const struct lds_column *column = &series->kind->column[c];
    size_t row = series->rows - 1;
    char member[LDS_JSON_NAME];
    double low = read_number(reader, object, "low", column->quantity, calibrated);
    double high = read_number(reader, object, "high", column->quantity, calibrated);
    lds_json_name(column->name, column->quantity, calibrated ? LDS_IN_VOLTS : LDS_IN_DBFS, member);
    lds_saved_rising(reader, member, low, lds_series_value(series, row, c));
    lds_saved_rising(reader, member, lds_series_value(series, row, c), high);
    lds_series_set_limits(series, row, c, low, high);
}

/* The bands must rise without overlap, and each must contain its frequency. */
static void check_band(struct lds_saved_reader *reader, const struct lds_series *floor)
{
    size_t row = floor->rows - 1;
    double low_hz = lds_series_value(floor, row, LDS_FLOOR_LOW_HZ);
    double high_hz = lds_series_value(floor, row, LDS_FLOOR_HIGH_HZ);
    (void)lds_saved_in_range(reader, "frequency_hz", lds_series_value(floor, row, LDS_FLOOR_HZ), low_hz, high_hz);
    if (!(low_hz > 0.0) || !(high_hz > low_hz))
        lds_saved_wrong(reader, "high_hz", "above low_hz, and that above 0");
    if (row > 0 && low_hz < lds_series_value(floor, row - 1, LDS_FLOOR_HIGH_HZ) * (1.0 - 1e-9))
        lds_saved_wrong(reader, "low_hz", "at or above the end of the band before");
}

static void read_line(struct lds_saved_reader *reader, const json_t *object, struct lds_series *series, bool calibrated)
{
    const struct lds_series_kind *kind = series->kind;
    double value[LDS_COLUMNS];
    for (int c = 0; c < kind->columns; c++)
        value[c] = read_number(reader, object, kind->column[c].name, kind->column[c].quantity, calibrated);
    if (!lds_series_add_row(series, value)) {
        lds_saved_no_memory(reader);
        return;
    }
    size_t row = series->rows - 1;
    for (int c = 0; c < kind->columns; c++)
        if (kind->column[c].limits)
            read_limits(reader, object, series, c, calibrated);
    if (kind->match == LDS_MATCH_BANDS)
        check_band(reader, series);
    if (kind->flags && (kind->match == LDS_MATCH_ORDER || lds_saved_has(reader, object, "flags"))) /* bands got flags
                                                                                                    * later */
        series->flag[row] = lds_saved_flags(reader, object);
    if (!kind->text)
        return;
    lds_saved_text_into(reader, object, kind->text, series->text[row], LDS_SERIES_TEXT);
    if (!series->text[row][0])
        lds_saved_wrong(reader, kind->text, "text");
}

void lds_saved_lines(struct lds_saved_reader *reader, const json_t *object, const struct lds_saved_list *list)
{
    size_t kinds;
    const struct lds_series_kind *kind = lds_series_kinds(&kinds);
    for (size_t k = 0; k < kinds; k++) {
        if (kind[k].form != LDS_FORM_LINES || (kind[k].later && !lds_saved_has(reader, object, kind[k].key)))
            continue;
        const json_t *array = lds_saved_array(reader, object, kind[k].key);
        struct lds_series *series = new_series(reader, list, kind[k].key);
        size_t outside = lds_saved_enter(reader, kind[k].key);
        for (size_t i = 0; reader->status == LDS_OK && i < json_array_size(array); i++) {
            size_t here = lds_saved_enter_element(reader, i);
            const json_t *element = json_array_get(array, i);
            if (!json_is_object(element))
                lds_saved_wrong(reader, NULL, "an object");
            read_line(reader, element, series, list->calibrated);
            lds_saved_leave(reader, here);
        }
        lds_saved_leave(reader, outside);
    }
}

void lds_saved_curves(struct lds_saved_reader *reader, const json_t *object, const struct lds_saved_list *list)
{
    read_form(reader, object, "curves", LDS_FORM_CURVE, list);
    read_form(reader, object, "series", LDS_FORM_OVER_AXIS, list);
}
