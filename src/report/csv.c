/* One row per figure, after RFC 4180 (docs/csv.md). Unknown is an empty cell. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "loadside/report.h"
#include "record/quantities.h"
#include "report/csv_parts.h"
#include "report/json_parts.h"
#include "report/words.h"
#include "scrap.h"

static const char columns[] = "file,channel,key,label,value,unit,low,high,u_a,u_b,dof,band_low_hz,band_high_hz,"
                              "first_order,last_order,flags,absent_reason\r\n";

/* Where rows go, and their channel. */
struct sheet {
    struct lds_csv_sheet csv;
    const struct lds_measurement *measurement; /* the capture, and those after it */
    size_t captures;
    const char *file;
    struct lds_short channel;
    bool calibrated;
};

static json_t *new_row(const struct sheet *sheet, const char *key, const char *label)
{
    return lds_json_object(LDS_TEXT(sheet, file), LDS_AS("channel", lds_json_text(sheet->channel.text)),
                           LDS_AS("key", lds_json_text(key)), LDS_AS("label", lds_json_text(label)), NULL);
}

/* Of a figure made from several captures: "a.wav; b.wav". */
static void put_files(json_t *row, const struct sheet *sheet, const struct lds_figure *figure)
{
    struct lds_scrap scrap;
    if (figure->others == 0 || !lds_scrap_open(&scrap))
        return;
    fputs(sheet->file, scrap.out);
    for (size_t i = 0; i < figure->others; i++)
        if ((size_t)figure->other[i] < sheet->captures && sheet->measurement[figure->other[i]].file)
            fprintf(scrap.out, "; %s", sheet->measurement[figure->other[i]].file);
    if (lds_scrap_close(&scrap))
        lds_json_put(row, "file", lds_json_text(scrap.text));
    free(scrap.text);
}

static void write_figures(struct sheet *sheet, const struct lds_figure *figure, size_t count)
{
    for (const struct lds_figure *f = NULL; (f = lds_next_figure(f, figure, count)) != NULL;) {
        json_t *row = new_row(sheet, f->key, lds_csv_label(f->key));
        lds_json_set(row, LDS_AS("band_low_hz", lds_json_real(f->band_hz[0])),
                     LDS_AS("band_high_hz", lds_json_real(f->band_hz[1])),
                     LDS_AS("first_order", lds_json_ordinal(f->orders[0])),
                     LDS_AS("last_order", lds_json_ordinal(f->orders[1])), NULL);
        put_files(row, sheet, f);
        lds_csv_row(&sheet->csv, row, lds_json_figure(f));
    }
}

static void write_absents(struct sheet *sheet, const struct lds_absent *absent, size_t count)
{
    for (const struct lds_absent *one = NULL; (one = lds_next_absent(one, absent, count)) != NULL;)
        lds_csv_row(&sheet->csv, new_row(sheet, one->key, lds_csv_label(one->key)),
                    lds_json_object(LDS_AS("absent_reason", lds_json_text(one->reason)), NULL));
}

static double in_unit(const struct sheet *sheet, enum lds_quantity quantity, double number)
{
    return lds_quantity_row(quantity)->level && !sheet->calibrated ? lds_dbfs(number) : number;
}

/* One number of a row of a series. number: the one in its key, the order or the position in the list. */
static void write_number(struct sheet *sheet, const struct lds_series *series, size_t i, int c, size_t number)
{
    const struct lds_series_kind *kind = series->kind;
    const struct lds_column *column = &kind->column[c];
    struct lds_cell cell = lds_series_cell(series, i, c);
    bool ordered = kind->match == LDS_MATCH_ORDER, alone = kind->value_alone;
    const struct lds_label label =
        lds_label("%s%s%s%s", kind->row_label ? kind->row_label : "", ordered ? lds_short(" %zu", number).text : "",
                  alone ? "" : ", ", alone ? "" : column->name);
    json_t *row =
        new_row(sheet, lds_label("%s.%zu%s%s", kind->row_key, number, alone ? "" : ".", alone ? "" : column->name).text,
                series->text ? series->text[i] : label.text);
    lds_json_set(row, LDS_AS("value", lds_json_real(in_unit(sheet, column->quantity, cell.value))),
                 LDS_AS("unit", json_string(lds_quantity_unit(column->quantity, sheet->calibrated))),
                 LDS_AS("low", lds_json_real(in_unit(sheet, column->quantity, cell.low))),
                 LDS_AS("high", lds_json_real(in_unit(sheet, column->quantity, cell.high))),
                 LDS_AS("flags", lds_json_flags(lds_series_flags(series, i))), NULL);
    if (ordered)
        lds_json_set(row, LDS_AS("first_order", lds_json_ordinal((int)number)),
                     LDS_AS("last_order", lds_json_ordinal((int)number)), NULL);
    if (kind->match == LDS_MATCH_BANDS)
        lds_json_set(row, LDS_AS("band_low_hz", lds_json_real(lds_series_value(series, i, LDS_FLOOR_LOW_HZ))),
                     LDS_AS("band_high_hz", lds_json_real(lds_series_value(series, i, LDS_FLOOR_HIGH_HZ))), NULL);
    lds_csv_row(&sheet->csv, row, NULL);
}

/* For each row all columns but its order, or only its value. */
static void write_series(struct sheet *sheet, const struct lds_series *series, size_t count)
{
    size_t kinds;
    const struct lds_series_kind *kind = lds_series_kinds(&kinds);
    for (size_t k = 0; k < kinds; k++) {
        const struct lds_series *one = lds_series_find(series, count, kind[k].key);
        bool ordered = kind[k].match == LDS_MATCH_ORDER;
        for (size_t i = 0; kind[k].row_key && i < one->rows; i++)
            for (int c = ordered; c < kind[k].columns; c++)
                if (!kind[k].value_alone || c == kind[k].value)
                    write_number(sheet, one, i, c, ordered ? (size_t)lds_series_value(one, i, LDS_LINE_ORDER) : i + 1);
    }
}

static void write_of_problem(struct sheet *sheet, size_t number, const char *what, const char *kind, double value,
                             const char *unit)
{
    lds_csv_row(&sheet->csv, new_row(sheet, lds_short("problem.%zu.%s", number, what).text, kind),
                lds_json_object(LDS_AS("value", lds_json_real(value)), LDS_AS("unit", json_string(unit)), NULL));
}

static void write_problems(struct sheet *sheet, const struct lds_channel *channel)
{
    bool volts = sheet->calibrated;
    for (size_t i = 0; i < channel->problems; i++) {
        const struct lds_problem *problem = &channel->problem[i];
        write_of_problem(sheet, i + 1, "at", problem->kind, problem->at_s, "s");
        write_of_problem(sheet, i + 1, "samples", problem->kind, problem->samples, "count");
        if (problem->ceiling > 0.0) /* a peak; in dBFS that of the sine with this peak */
            write_of_problem(sheet, i + 1, "ceiling", problem->kind,
                             volts ? problem->ceiling : lds_dbfs(problem->ceiling * M_SQRT1_2), volts ? "V" : "dBFS");
    }
}

static void write_capture(struct sheet *sheet, const struct lds_measurement *measurement)
{
    sheet->measurement = measurement;
    sheet->file = measurement->file ? measurement->file : "";
    for (size_t i = 0; i < measurement->channels; i++) {
        const struct lds_channel *channel = &measurement->channel[i];
        sheet->calibrated = channel->calibrated;
        sheet->channel = lds_short("%d", channel->channel);
        write_figures(sheet, channel->figure, channel->figures);
        write_series(sheet, channel->series, channel->series_count);
        write_problems(sheet, channel);
        write_absents(sheet, channel->absent, channel->absents);
    }
    for (size_t i = 0; i < measurement->pairs; i++) {
        const struct lds_pair *pair = &measurement->pair[i];
        sheet->channel = lds_short("%d and %d", pair->channels[0], pair->channels[1]);
        write_figures(sheet, pair->figure, pair->figures);
        write_series(sheet, pair->series, pair->series_count);
        write_absents(sheet, pair->absent, pair->absents);
    }
}

enum lds_status lds_report_csv(const struct lds_measurement *measurement, size_t count, const char *path,
                               struct lds_error *error)
{
    struct sheet sheet;
    enum lds_status status = lds_csv_begin(&sheet.csv, columns, path, error);
    if (status != LDS_OK)
        return status;
    for (size_t i = 0; i < count; i++) {
        sheet.captures = count - i;
        write_capture(&sheet, &measurement[i]);
    }
    return lds_csv_finish(&sheet.csv, error);
}
