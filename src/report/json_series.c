#include "report/json_series.h"

#include "report/json_names.h"

static void put_number(struct lds_json_maker *maker, json_t *object, const char *name, enum lds_quantity quantity,
                       bool calibrated, double number)
{
    char volts[LDS_JSON_NAME], dbfs[LDS_JSON_NAME];
    lds_json_name(name, quantity, LDS_IN_VOLTS, volts);
    lds_json_name(name, quantity, LDS_IN_DBFS, dbfs);
    if (lds_quantity_row(quantity)->level)
        lds_json_put_level(maker, object, calibrated, volts, dbfs, number);
    else
        lds_json_put(maker, object, volts,
                     quantity == LDS_QUANTITY_ORDER ? lds_json_plain(number) : lds_json_real(number));
}

static json_t *row_object(struct lds_json_maker *maker, const struct lds_series *series, size_t row, bool calibrated)
{
    const struct lds_series_kind *kind = series->kind;
    json_t *object = json_object();
    for (int c = 0; c < kind->columns; c++) {
        const struct lds_column *column = &kind->column[c];
        struct lds_cell cell = lds_series_cell(series, row, c);
        put_number(maker, object, column->name, column->quantity, calibrated, cell.value);
        if (column->limits) {
            put_number(maker, object, "low", column->quantity, calibrated, cell.low);
            put_number(maker, object, "high", column->quantity, calibrated, cell.high);
        }
    }
    if (kind->text)
        lds_json_put(maker, object, kind->text, lds_json_text(series->text[row]));
    if (kind->flags)
        lds_json_put(maker, object, "flags", lds_json_flags(maker, series->flag[row]));
    return object;
}

/* Two arrays of one length, named with their units. */
static json_t *curve_object(struct lds_json_maker *maker, const struct lds_series *series, bool calibrated)
{
    json_t *object = json_object();
    for (int c = 0; c < series->kind->columns; c++) {
        const struct lds_column *column = &series->kind->column[c];
        char name[LDS_JSON_NAME];
        lds_json_name(column->name, column->quantity, calibrated ? LDS_IN_VOLTS : LDS_IN_FULL_SCALES, name);
        json_t *array = json_array();
        for (size_t i = 0; i < series->rows; i++)
            lds_json_append(maker, array, lds_json_real(lds_series_value(series, i, c)));
        lds_json_put(maker, object, name, array);
    }
    return object;
}

static json_t *over_axis_object(struct lds_json_maker *maker, const struct lds_series *series, bool calibrated)
{
    const struct lds_series_kind *kind = series->kind;
    const struct lds_column *axis = &kind->column[kind->axis], *value = &kind->column[kind->value];
    json_t *object = json_object(), *rows = json_array();
    lds_json_put(maker, object, "x", json_string(axis->name));
    lds_json_put(maker, object, "x_unit", json_string(lds_quantity_unit(axis->quantity, calibrated)));
    lds_json_put(maker, object, "unit", json_string(lds_quantity_unit(value->quantity, calibrated)));
    for (size_t i = 0; i < series->rows; i++) {
        struct lds_cell cell = lds_series_cell(series, i, kind->value);
        const double numbers[] = {lds_series_value(series, i, kind->axis), cell.value, cell.low, cell.high};
        lds_json_append(maker, rows, lds_json_reals(maker, numbers, 4));
    }
    lds_json_put(maker, object, "rows", rows);
    lds_json_put(maker, object, "flags", lds_json_flags(maker, series->flags));
    return object;
}

void lds_json_put_lines(struct lds_json_maker *maker, json_t *object, const struct lds_series *series, size_t count,
                        bool calibrated)
{
    size_t kinds;
    const struct lds_series_kind *kind = lds_series_kinds(&kinds);
    for (size_t k = 0; k < kinds; k++) {
        if (kind[k].form != LDS_FORM_LINES)
            continue;
        const struct lds_series *one = lds_series_find(series, count, kind[k].key);
        json_t *array = json_array();
        for (size_t i = 0; i < one->rows; i++)
            lds_json_append(maker, array, row_object(maker, one, i, calibrated));
        lds_json_put(maker, object, kind[k].key, array);
    }
}

/* Those of one form in an object of their own, unless there are none. */
static void put_form(struct lds_json_maker *maker, json_t *object, const char *member, enum lds_series_form form,
                     const struct lds_series *series, size_t count, bool calibrated)
{
    size_t kinds;
    const struct lds_series_kind *kind = lds_series_kinds(&kinds);
    json_t *all = json_object();
    for (size_t k = 0; k < kinds; k++) {
        const struct lds_series *one = lds_series_find(series, count, kind[k].key);
        if (kind[k].form != form || one->rows == 0)
            continue;
        lds_json_put(maker, all, kind[k].key,
                     form == LDS_FORM_CURVE ? curve_object(maker, one, calibrated)
                                            : over_axis_object(maker, one, calibrated));
    }
    if (json_object_size(all) > 0)
        lds_json_put(maker, object, member, all);
    else
        json_decref(all);
}

void lds_json_put_curves(struct lds_json_maker *maker, json_t *object, const struct lds_series *series, size_t count,
                         bool calibrated)
{
    put_form(maker, object, "curves", LDS_FORM_CURVE, series, count, calibrated);
    put_form(maker, object, "series", LDS_FORM_OVER_AXIS, series, count, calibrated);
}
