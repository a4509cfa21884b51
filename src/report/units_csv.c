/* One row a figure and unit (docs/csv.md). */
#include <math.h>
#include <stdlib.h>

#include "fail.h"
#include "loadside/report.h"
#include "report/csv_parts.h"
#include "report/figures.h"
#include "report/whole_file.h"

static const char header[] =
    "channel,key,label,name,value,unit,low,high,median,spread,stands_out,p_adjusted,worse,reason\r\n";

struct sheet {
    FILE *out;
    const struct lds_unit_table *table;
    bool failed;
};

static void write_text(struct sheet *sheet, const char *text)
{
    fputc(',', sheet->out);
    sheet->failed |= !lds_csv_text(sheet->out, text);
}

static void write_head(struct sheet *sheet, const char *key, const char *name)
{
    if (sheet->table->channel > 0)
        fprintf(sheet->out, "%d", sheet->table->channel);
    write_text(sheet, key);
    write_text(sheet, lds_csv_label(key));
    write_text(sheet, name);
}

static void write_unit(struct sheet *sheet, const struct lds_unit_row *row, size_t unit)
{
    bool stands_out = row->stands_out == (int)unit;
    write_head(sheet, row->key, sheet->table->name[unit]);
    lds_csv_number(sheet->out, row->value[unit]);
    write_text(sheet, row->unit);
    lds_csv_number(sheet->out, row->low[unit]);
    lds_csv_number(sheet->out, row->high[unit]);
    lds_csv_number(sheet->out, row->median);
    lds_csv_number(sheet->out, row->spread);
    write_text(sheet, stands_out ? "yes" : "no");
    lds_csv_number(sheet->out, row->p_adjusted);
    write_text(sheet, stands_out && row->worse ? "yes" : "no");
    fputs(",\r\n", sheet->out);
}

static void write_table(struct sheet *sheet)
{
    const struct lds_unit_table *table = sheet->table;
    const struct lds_unit_row **row = lds_unit_rows_sorted(table->row, table->rows);
    const struct lds_absent **absent = lds_absents_sorted(table->not_compared_why, table->not_compared);
    sheet->failed |= !row || !absent;
    for (size_t i = 0; row && i < table->rows; i++)
        for (size_t unit = 0; unit < row[i]->count; unit++)
            write_unit(sheet, row[i], unit);
    for (size_t i = 0; absent && i < table->not_compared; i++) {
        write_head(sheet, absent[i]->key, "");
        fputs(",,,,,,,,,", sheet->out);
        write_text(sheet, absent[i]->reason);
        fputs("\r\n", sheet->out);
    }
    free(row);
    free(absent);
}

enum lds_status lds_units_csv(const struct lds_unit_table *table, size_t tables, const char *path,
                              struct lds_error *error)
{
    struct lds_whole_file file;
    enum lds_status status = lds_whole_file_open(&file, path, error);
    if (status != LDS_OK)
        return status;
    struct lds_point_locale locale;
    struct sheet sheet = {.out = file.out, .failed = !lds_point_locale_enter(&locale)};
    if (!sheet.failed) {
        fputs(header, file.out);
        for (size_t i = 0; i < tables; i++) {
            sheet.table = &table[i];
            write_table(&sheet);
        }
        lds_point_locale_leave(&locale);
    }
    if (!sheet.failed)
        return lds_whole_file_commit(&file, error);
    lds_whole_file_abandon(&file);
    return lds_fail_memory(error, "the CSV of the units");
}
