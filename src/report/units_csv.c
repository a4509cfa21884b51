/* One row per figure and unit (docs/csv.md). */
#include <stdlib.h>

#include "loadside/report.h"
#include "report/csv_parts.h"
#include "report/json_parts.h"

static const char columns[] =
    "channel,key,label,name,value,unit,low,high,median,spread,stands_out,p_adjusted,worse,reason,channel_name\r\n";

static json_t *new_row(const struct lds_unit_table *table, const char *key)
{
    return lds_json_object(LDS_AS("channel", lds_json_ordinal(table->channel)), LDS_AS("key", lds_json_text(key)),
                           LDS_AS("label", lds_json_text(lds_csv_label(key))), LDS_TEXT(table, channel_name), NULL);
}

static json_t *unit_cells(const struct lds_unit_table *table, const struct lds_unit_row *row, size_t unit)
{
    bool stands_out = row->stands_out == (int)unit;
    return lds_json_object(LDS_AS("name", lds_json_text(table->name[unit])),
                           LDS_AS("value", lds_json_real(row->value[unit])), LDS_TEXT(row, unit),
                           LDS_AS("low", lds_json_real(row->low[unit])), LDS_AS("high", lds_json_real(row->high[unit])),
                           LDS_REAL(row, median), LDS_REAL(row, spread), LDS_AS("stands_out", json_boolean(stands_out)),
                           LDS_REAL(row, p_adjusted), LDS_AS("worse", json_boolean(stands_out && row->worse)), NULL);
}

static void write_table(struct lds_csv_sheet *csv, const struct lds_unit_table *table)
{
    const struct lds_unit_row **row = lds_unit_rows_sorted(table->row, table->rows);
    for (size_t i = 0; row && i < table->rows; i++)
        for (size_t unit = 0; unit < row[i]->count; unit++)
            lds_csv_row(csv, new_row(table, row[i]->key), unit_cells(table, row[i], unit));
    for (const struct lds_absent *one = NULL;
         (one = lds_next_absent(one, table->not_compared_why, table->not_compared)) != NULL;)
        lds_csv_row(csv, new_row(table, one->key), lds_json_object(LDS_TEXT(one, reason), NULL));
    free(row);
}

enum lds_status lds_units_csv(const struct lds_unit_table *table, size_t tables, const char *path,
                              struct lds_error *error)
{
    struct lds_csv_sheet csv;
    enum lds_status status = lds_csv_begin(&csv, columns, path, error);
    if (status != LDS_OK)
        return status;
    for (size_t i = 0; i < tables; i++)
        write_table(&csv, &table[i]);
    return lds_csv_finish(&csv, error);
}
