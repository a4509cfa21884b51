#include "report/json_parts.h"

#include "saved/names.h"

static void put_number(json_t *object, const char *name, enum lds_quantity quantity, bool calibrated, double number)
{
    char volts[LDS_JSON_NAME], dbfs[LDS_JSON_NAME];
    lds_json_name(name, quantity, LDS_IN_VOLTS, volts);
    lds_json_name(name, quantity, LDS_IN_DBFS, dbfs);
    if (lds_quantity_row(quantity)->level)
        lds_json_put_level(object, calibrated, volts, dbfs, number);
    else
        lds_json_put(object, volts, quantity == LDS_QUANTITY_ORDER ? lds_json_plain(number) : lds_json_real(number));
}

static json_t *row_object(const struct lds_series *series, size_t row, bool calibrated)
{
    const struct lds_series_kind *kind = series->kind;
    json_t *object = json_object();
    for (int c = 0; c < kind->columns; c++) {
        const struct lds_column *column = &kind->column[c];
        struct lds_cell cell = lds_series_cell(series, row, c);
        put_number(object, column->name, column->quantity, calibrated, cell.value);
        if (column->limits) {
            put_number(object, "low", column->quantity, calibrated, cell.low);
            put_number(object, "high", column->quantity, calibrated, cell.high);
        }
    }
    if (kind->text)
        lds_json_put(object, kind->text, lds_json_text(series->text[row]));
    if (kind->flags)
        lds_json_put(object, "flags", lds_json_flags(series->flag[row]));
    return object;
}

/* Two arrays of the same length, with their units in the names. */
static json_t *curve_object(const struct lds_series *series, bool calibrated)
{
    json_t *object = json_object();
    for (int c = 0; c < series->kind->columns; c++) {
        const struct lds_column *column = &series->kind->column[c];
        char name[LDS_JSON_NAME];
        lds_json_name(column->name, column->quantity, calibrated ? LDS_IN_VOLTS : LDS_IN_FULL_SCALES, name);
        json_t *array = json_array();
        for (size_t i = 0; i < series->rows; i++)
            lds_json_append(array, lds_json_real(lds_series_value(series, i, c)));
        lds_json_put(object, name, array);
    }
    return object;
}

static json_t *over_axis_object(const struct lds_series *series, bool calibrated)
{
    const struct lds_series_kind *kind = series->kind;
    const struct lds_column *axis = &kind->column[kind->axis], *value = &kind->column[kind->value];
    json_t *rows = json_array(), *flags = json_array();
    for (size_t i = 0; i < series->rows; i++) {
        struct lds_cell cell = lds_series_cell(series, i, kind->value);
        const double numbers[] = {lds_series_value(series, i, kind->axis), cell.value, cell.low, cell.high};
        lds_json_append(rows, lds_json_reals(numbers, 4));
        lds_json_append(flags, lds_json_flags(series->flag ? series->flag[i] : 0u));
    }
    json_t *object = lds_json_object(LDS_AS("x", json_string(axis->name)),
                                     LDS_AS("x_unit", json_string(lds_quantity_unit(axis->quantity, calibrated))),
                                     LDS_AS("unit", json_string(lds_quantity_unit(value->quantity, calibrated))),
                                     LDS_AS("rows", rows), LDS_AS("flags", lds_json_flags(series->flags)), NULL);
    lds_json_put_row_flags(object, flags);
    return object;
}

void lds_json_put_lines(json_t *object, const struct lds_series *series, size_t count, bool calibrated)
{
    size_t kinds;
    const struct lds_series_kind *kind = lds_series_kinds(&kinds);
    for (size_t k = 0; k < kinds; k++) {
        if (kind[k].form != LDS_FORM_LINES)
            continue;
        const struct lds_series *one = lds_series_find(series, count, kind[k].key);
        if (kind[k].later && one->rows == 0)
            continue;
        json_t *array = json_array();
        for (size_t i = 0; i < one->rows; i++)
            lds_json_append(array, row_object(one, i, calibrated));
        lds_json_put(object, kind[k].key, array);
    }
}

/* The series of one form in an object of their own, unless there are none. */
static void put_form(json_t *object, const char *member, enum lds_series_form form, const struct lds_series *series,
                     size_t count, bool calibrated)
{
    size_t kinds;
    const struct lds_series_kind *kind = lds_series_kinds(&kinds);
    json_t *all = json_object();
    for (size_t k = 0; k < kinds; k++) {
        const struct lds_series *one = lds_series_find(series, count, kind[k].key);
        if (kind[k].form != form || one->rows == 0)
            continue;
        lds_json_put(all, kind[k].key,
                     form == LDS_FORM_CURVE ? curve_object(one, calibrated) : over_axis_object(one, calibrated));
    }
    lds_json_put_unless_empty(object, member, all);
}

void lds_json_put_curves(json_t *object, const struct lds_series *series, size_t count, bool calibrated)
{
    put_form(object, "curves", LDS_FORM_CURVE, series, count, calibrated);
    put_form(object, "series", LDS_FORM_OVER_AXIS, series, count, calibrated);
}
