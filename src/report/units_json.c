/* "loadside-units" version 1 (docs/json.md). */
#include <stdlib.h>

#include "loadside/report.h"
#include "report/figures.h"
#include "report/json_parts.h"

/* Units are counted from 1, like channels. */
static json_t *row_object(const struct lds_unit_row *row)
{
    return lds_json_object(LDS_TEXT(row, unit), LDS_AS("values", lds_json_reals(row->value, row->count)),
                           LDS_AS("low", lds_json_reals(row->low, row->count)),
                           LDS_AS("high", lds_json_reals(row->high, row->count)), LDS_REAL(row, median),
                           LDS_REAL(row, spread), LDS_AS("stands_out", lds_json_ordinal(row->stands_out + 1)),
                           LDS_REAL(row, p_adjusted), LDS_YES(row, worse), NULL);
}

static json_t *rows_object(const struct lds_unit_table *table)
{
    json_t *object = json_object();
    const struct lds_unit_row **sorted = lds_unit_rows_sorted(table->row, table->rows);
    for (size_t i = 0; sorted && i < table->rows; i++)
        lds_json_put(object, sorted[i]->key, row_object(sorted[i]));
    free(sorted);
    return object;
}

static json_t *table_object(const void *element)
{
    const struct lds_unit_table *table = element;
    return lds_json_object(LDS_AS("channel", lds_json_ordinal(table->channel)), LDS_TEXT(table, channel_name),
                           LDS_TEXT(table, summary), LDS_AS("notes", lds_json_texts(table->note, table->notes)),
                           LDS_AS("units", lds_json_texts(table->name, table->units)),
                           LDS_AS("rows", rows_object(table)),
                           LDS_AS("not_compared", lds_json_absents(table->not_compared_why, table->not_compared)),
                           LDS_YES(table, worse), NULL);
}

enum lds_status lds_units_json(const struct lds_unit_table *table, size_t tables, const char *path,
                               struct lds_error *error)
{
    json_t *root = lds_json_root("loadside-units");
    bool worse = false;
    for (size_t i = 0; i < tables; i++)
        worse = worse || table[i].worse;
    lds_json_set(root, LDS_AS("tables", LDS_LIST(table, tables, table_object)), LDS_AS("worse", json_boolean(worse)),
                 NULL);
    return lds_json_write(root, path, "the JSON of the units", error);
}
