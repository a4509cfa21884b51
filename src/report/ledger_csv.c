/* The units of a ledger, a row each; a history, a row for each figure of each side of each job (docs/csv.md). */
#include <math.h>

#include "fail.h"
#include "loadside/report.h"
#include "report/csv_parts.h"
#include "report/figures.h"
#include "report/whole_file.h"

struct sheet {
    FILE *out;
    bool failed;
};

static void write_text(struct sheet *sheet, const char *text)
{
    fputc(',', sheet->out);
    sheet->failed |= !lds_csv_text(sheet->out, text ? text : "");
}

static void write_unit(struct sheet *sheet, const struct lds_ledger_unit *unit)
{
    sheet->failed |= !lds_csv_text(sheet->out, unit->make ? unit->make : "");
    write_text(sheet, unit->type);
    write_text(sheet, unit->serial);
}

static void write_units(struct sheet *sheet, const void *context, size_t units)
{
    const struct lds_ledger_unit *unit = context;
    fputs("make,type,serial,jobs,first_date,last_date\r\n", sheet->out);
    for (size_t i = 0; i < units; i++) {
        write_unit(sheet, &unit[i]);
        fprintf(sheet->out, ",%zu", unit[i].jobs);
        write_text(sheet, unit[i].first_date);
        write_text(sheet, unit[i].last_date);
        fputs("\r\n", sheet->out);
    }
}

/* The standing stands in the row of the point that it is of: the last. */
static void write_standing(struct sheet *sheet, const struct lds_ledger_standing *standing)
{
    if (!standing || standing->units == 0) {
        fputs(",,,,,,", sheet->out);
        return;
    }
    fprintf(sheet->out, ",%zu,%zu,%zu,%zu", standing->units, standing->lower, standing->alike, standing->higher);
    lds_csv_number(sheet->out, standing->median);
    lds_csv_number(sheet->out, standing->spread);
}

static void write_series(struct sheet *sheet, const struct lds_ledger_history *history,
                         const struct lds_ledger_series *series)
{
    for (size_t i = 0; i < series->points; i++) {
        const struct lds_ledger_point *point = &series->point[i];
        write_unit(sheet, &history->unit);
        write_text(sheet, history->job[point->job].date);
        write_text(sheet, lds_role_name(series->role));
        lds_csv_number(sheet->out, series->power_w);
        lds_csv_number(sheet->out, series->load_ohm);
        lds_csv_number(sheet->out, series->rate_hz);
        write_text(sheet, lds_when_name(point->when));
        fprintf(sheet->out, ",%d", series->channel);
        lds_csv_number(sheet->out, series->other > 0 ? (double)series->other : (double)NAN);
        write_text(sheet, series->key);
        write_text(sheet, lds_csv_label(series->key));
        fprintf(sheet->out, ",%zu", point->captures);
        lds_csv_number(sheet->out, point->value);
        write_text(sheet, series->unit);
        lds_csv_number(sheet->out, point->low);
        lds_csv_number(sheet->out, point->high);
        lds_csv_flags(sheet->out, point->flags);
        write_standing(sheet, i + 1 == series->points ? &series->standing : NULL);
        lds_csv_number(sheet->out, series->tone_hz);
        fputs("\r\n", sheet->out);
    }
}

static void write_history(struct sheet *sheet, const void *context, size_t count)
{
    const struct lds_ledger_history *history = context;
    (void)count;
    fputs("make,type,serial,date,role,power_w,load_ohm,rate_hz,side,channel,other_channel,key,label,captures,value,"
          "unit,low,high,"
          "flags,units,lower,alike,higher,median,spread,tone_hz\r\n",
          sheet->out);
    for (size_t i = 0; i < history->series; i++)
        write_series(sheet, history, &history->serie[i]);
}

static enum lds_status write_file(void (*write)(struct sheet *sheet, const void *context, size_t count),
                                  const void *context, size_t count, const char *path, struct lds_error *error)
{
    struct lds_whole_file file;
    enum lds_status status = lds_whole_file_open(&file, path, error);
    if (status != LDS_OK)
        return status;
    struct lds_point_locale locale;
    struct sheet sheet = {.out = file.out, .failed = !lds_point_locale_enter(&locale)};
    if (!sheet.failed) {
        write(&sheet, context, count);
        lds_point_locale_leave(&locale);
    }
    if (!sheet.failed)
        return lds_whole_file_commit(&file, error);
    lds_whole_file_abandon(&file);
    return lds_fail_memory(error, "the CSV of the ledger");
}

enum lds_status lds_ledger_units_csv(const struct lds_ledger_unit *unit, size_t units, const char *path,
                                     struct lds_error *error)
{
    return write_file(write_units, unit, units, path, error);
}

enum lds_status lds_history_csv(const struct lds_ledger_history *history, const char *path, struct lds_error *error)
{
    return write_file(write_history, history, 0, path, error);
}
