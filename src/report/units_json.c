/* "loadside-units" version 1 (docs/json.md). */
#include <math.h>
#include <stdlib.h>

#include "loadside/report.h"
#include "report/figures.h"
#include "report/json_parts.h"

static json_t *numbers_array(struct lds_json_maker *maker, const double *number, size_t count)
{
    json_t *array = json_array();
    for (size_t i = 0; i < count; i++)
        lds_json_append(maker, array, lds_json_real(number[i]));
    return array;
}

static json_t *row_object(struct lds_json_maker *maker, const struct lds_unit_row *row)
{
    json_t *object = json_object();
    lds_json_put(maker, object, "unit", lds_json_text(row->unit));
    lds_json_put(maker, object, "values", numbers_array(maker, row->value, row->count));
    lds_json_put(maker, object, "low", numbers_array(maker, row->low, row->count));
    lds_json_put(maker, object, "high", numbers_array(maker, row->high, row->count));
    lds_json_put(maker, object, "median", lds_json_real(row->median));
    lds_json_put(maker, object, "spread", lds_json_real(row->spread));
    /* Units count from 1, as people do and channels are. */
    lds_json_put(maker, object, "stands_out", row->stands_out >= 0 ? json_integer(row->stands_out + 1) : json_null());
    lds_json_put(maker, object, "p_adjusted", lds_json_real(row->p_adjusted));
    lds_json_put(maker, object, "worse", json_boolean(row->worse));
    return object;
}

static json_t *rows_object(struct lds_json_maker *maker, const struct lds_unit_table *table)
{
    json_t *object = json_object();
    const struct lds_unit_row **sorted = lds_unit_rows_sorted(table->row, table->rows);
    maker->failed = maker->failed || !sorted;
    for (size_t i = 0; sorted && i < table->rows; i++)
        lds_json_put(maker, object, sorted[i]->key, row_object(maker, sorted[i]));
    free(sorted);
    return object;
}

static json_t *table_object(struct lds_json_maker *maker, const struct lds_unit_table *table)
{
    json_t *object = json_object();
    lds_json_put(maker, object, "channel", table->channel > 0 ? json_integer(table->channel) : json_null());
    lds_json_put(maker, object, "summary", lds_json_text(table->summary));
    lds_json_put(maker, object, "notes", lds_json_texts(maker, table->note, table->notes));
    lds_json_put(maker, object, "units", lds_json_texts(maker, table->name, table->units));
    lds_json_put(maker, object, "rows", rows_object(maker, table));
    lds_json_put(maker, object, "not_compared", lds_json_absents(maker, table->not_compared_why, table->not_compared));
    lds_json_put(maker, object, "worse", json_boolean(table->worse));
    return object;
}

enum lds_status lds_units_json(const struct lds_unit_table *table, size_t tables, const char *path,
                               struct lds_error *error)
{
    struct lds_json_maker maker = {false};
    json_t *root = lds_json_root(&maker, "loadside-units"), *array = json_array();
    bool worse = false;
    for (size_t i = 0; i < tables; i++) {
        lds_json_append(&maker, array, table_object(&maker, &table[i]));
        worse = worse || table[i].worse;
    }
    lds_json_put(&maker, root, "tables", array);
    lds_json_put(&maker, root, "worse", json_boolean(worse));
    return lds_json_write(&maker, root, path, "the JSON of the units", error);
}
