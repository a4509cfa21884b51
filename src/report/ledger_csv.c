/* The units of a ledger, one row each; a history, a row for each figure of each side of each job (docs/csv.md). */

#include "loadside/report.h"
#include "report/csv_parts.h"
#include "report/json_parts.h"

enum lds_status lds_ledger_units_csv(const struct lds_ledger_unit *unit, size_t units, const char *path,
                                     struct lds_error *error)
{
    struct lds_csv_sheet csv;
    enum lds_status status = lds_csv_begin(&csv, "make,type,serial,jobs,first_date,last_date\r\n", path, error);
    if (status != LDS_OK)
        return status;
    for (size_t i = 0; i < units; i++)
        lds_csv_row(&csv, lds_json_ledger_unit(&unit[i]), NULL);
    return lds_csv_finish(&csv, error);
}

static json_t *series_cells(const struct lds_ledger_series *series)
{
    return lds_json_object(LDS_AS("role", json_string(series->role->name)), LDS_REAL(series, power_w),
                           LDS_REAL(series, load_ohm), LDS_REAL(series, rate_hz), LDS_WHOLE(series, channel),
                           LDS_AS("other_channel", lds_json_ordinal(series->other)), LDS_TEXT(series, key),
                           LDS_AS("label", lds_json_text(lds_csv_label(series->key))), LDS_TEXT(series, unit),
                           LDS_REAL(series, tone_hz), LDS_TEXT(series, channel_name),
                           LDS_AS("other_channel_name", lds_json_text(series->other_name)), NULL);
}

/* The standing goes into the row of the last point, which it belongs to. */
static void write_series(struct lds_csv_sheet *csv, const struct lds_ledger_history *history,
                         const struct lds_ledger_series *series)
{
    const struct lds_ledger_standing *standing = &series->standing;
    const struct lds_ledger_unit *unit = &history->unit;
    for (size_t i = 0; i < series->points; i++) {
        const struct lds_ledger_point *point = &series->point[i];
        json_t *row = lds_json_object(LDS_TEXT(unit, make), LDS_TEXT(unit, type), LDS_TEXT(unit, serial),
                                      LDS_TEXT(&history->job[point->job], date),
                                      LDS_AS("side", json_string(lds_when_name(point->when))),
                                      LDS_WHOLE(point, captures), LDS_REAL(point, value), LDS_REAL(point, low),
                                      LDS_REAL(point, high), LDS_AS("flags", lds_json_flags(point->flags)), NULL);
        if (i + 1 == series->points && standing->units > 0)
            lds_json_set(row, LDS_WHOLE(standing, units), LDS_WHOLE(standing, lower), LDS_WHOLE(standing, alike),
                         LDS_WHOLE(standing, higher), LDS_REAL(standing, median), LDS_REAL(standing, spread), NULL);
        lds_csv_row(csv, row, series_cells(series));
    }
}

enum lds_status lds_history_csv(const struct lds_ledger_history *history, const char *path, struct lds_error *error)
{
    struct lds_csv_sheet csv;
    enum lds_status status = lds_csv_begin(
        &csv,
        "make,type,serial,date,role,power_w,load_ohm,rate_hz,side,channel,other_channel,key,label,captures,"
        "value,unit,low,high,flags,units,lower,alike,higher,median,spread,tone_hz,channel_name,other_channel_name\r\n",
        path, error);
    if (status != LDS_OK)
        return status;
    for (size_t i = 0; i < history->series; i++)
        write_series(&csv, history, &history->serie[i]);
    return lds_csv_finish(&csv, error);
}
