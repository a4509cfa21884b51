/* One row a figure, as RFC 4180 has it (docs/csv.md). Unknown is an empty cell. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "fail.h"
#include "loadside/report.h"
#include "record/quantities.h"
#include "report/csv_parts.h"
#include "report/figures.h"
#include "report/whole_file.h"

static const char header[] = "file,channel,key,label,value,unit,low,high,u_a,u_b,dof,band_low_hz,band_high_hz,"
                             "first_order,last_order,flags,absent_reason\r\n";

/* Every cell of a row; what is not set stays empty. */
struct row {
    const char *file, *channel, *key, *label, *unit, *reason;
    double value, low, high, u_a, u_b, dof;
    double band_hz[2];
    int orders[2];
    unsigned flags;
};

/* Where rows go, and which channel they are of. */
struct sheet {
    FILE *out;
    const char *file;
    char channel[32];
    bool calibrated;
    bool failed;
};

static struct row empty_row(const struct sheet *sheet, const char *key, const char *label, const char *unit)
{
    return (struct row){
        .file = sheet->file,
        .channel = sheet->channel,
        .key = key,
        .label = label,
        .unit = unit,
        .reason = "",
        .value = NAN,
        .low = NAN,
        .high = NAN,
        .u_a = NAN,
        .u_b = NAN,
        .dof = NAN,
        .band_hz = {NAN, NAN},
    };
}

static void write_text(struct sheet *sheet, const char *text)
{
    sheet->failed |= !lds_csv_text(sheet->out, text);
}

static void write_order(struct sheet *sheet, int order)
{
    fputc(',', sheet->out);
    if (order > 0)
        fprintf(sheet->out, "%d", order);
}

static void write_row(struct sheet *sheet, const struct row *row)
{
    write_text(sheet, row->file);
    fputc(',', sheet->out);
    write_text(sheet, row->channel);
    fputc(',', sheet->out);
    write_text(sheet, row->key);
    fputc(',', sheet->out);
    write_text(sheet, row->label);
    lds_csv_number(sheet->out, row->value);
    fputc(',', sheet->out);
    write_text(sheet, row->unit);
    const double numbers[] = {row->low, row->high, row->u_a, row->u_b, row->dof, row->band_hz[0], row->band_hz[1]};
    for (size_t i = 0; i < sizeof numbers / sizeof numbers[0]; i++)
        lds_csv_number(sheet->out, numbers[i]);
    write_order(sheet, row->orders[0]);
    write_order(sheet, row->orders[1]);
    lds_csv_flags(sheet->out, row->flags);
    fputc(',', sheet->out);
    write_text(sheet, row->reason);
    fputs("\r\n", sheet->out);
}

static void write_figures(struct sheet *sheet, const struct lds_figure *figure, size_t count)
{
    const struct lds_figure **sorted = lds_figures_sorted(figure, count);
    sheet->failed = sheet->failed || !sorted;
    for (size_t i = 0; sorted && i < count; i++) {
        const struct lds_figure *f = sorted[i];
        struct row row = empty_row(sheet, f->key, lds_csv_label(f->key), f->unit);
        row.value = f->value;
        row.low = f->low;
        row.high = f->high;
        row.u_a = f->u_a;
        row.u_b = f->u_b;
        row.dof = f->dof;
        memcpy(row.band_hz, f->band_hz, sizeof row.band_hz);
        memcpy(row.orders, f->orders, sizeof row.orders);
        row.flags = f->flags;
        write_row(sheet, &row);
    }
    free(sorted);
}

static void write_absents(struct sheet *sheet, const struct lds_absent *absent, size_t count)
{
    const struct lds_absent **sorted = lds_absents_sorted(absent, count);
    sheet->failed = sheet->failed || !sorted;
    for (size_t i = 0; sorted && i < count; i++) {
        struct row row = empty_row(sheet, sorted[i]->key, lds_csv_label(sorted[i]->key), "");
        row.reason = sorted[i]->reason;
        write_row(sheet, &row);
    }
    free(sorted);
}

static double in_unit(const struct sheet *sheet, enum lds_quantity quantity, double number)
{
    return lds_quantity_row(quantity)->level && !sheet->calibrated ? lds_dbfs(number) : number;
}

/* One number of a row of a series. number: what its key has, the order or the place in the list. */
static void write_number(struct sheet *sheet, const struct lds_series *series, size_t i, int c, size_t number)
{
    const struct lds_series_kind *kind = series->kind;
    const struct lds_column *column = &kind->column[c];
    struct lds_cell cell = lds_series_cell(series, i, c);
    bool ordered = kind->match == LDS_MATCH_ORDER, alone = kind->value_alone;
    char key[96], label[96], place[24] = "";
    if (ordered)
        snprintf(place, sizeof place, " %zu", number);
    snprintf(key, sizeof key, "%s.%zu%s%s", kind->row_key, number, alone ? "" : ".", alone ? "" : column->name);
    snprintf(label, sizeof label, "%s%s%s%s", kind->row_label ? kind->row_label : "", place, alone ? "" : ", ",
             alone ? "" : column->name);
    struct row row = empty_row(sheet, key, series->text ? series->text[i] : label,
                               lds_quantity_unit(column->quantity, sheet->calibrated));
    row.value = in_unit(sheet, column->quantity, cell.value);
    row.low = in_unit(sheet, column->quantity, cell.low);
    row.high = in_unit(sheet, column->quantity, cell.high);
    row.flags = series->flag ? series->flag[i] : series->flags;
    if (ordered)
        row.orders[0] = row.orders[1] = (int)number;
    for (int k = 0; kind->match == LDS_MATCH_BANDS && k < 2; k++)
        row.band_hz[k] = lds_series_value(series, i, k ? LDS_FLOOR_HIGH_HZ : LDS_FLOOR_LOW_HZ);
    write_row(sheet, &row);
}

/* Of each row all columns but its order, or its value alone. */
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

static void write_problems(struct sheet *sheet, const struct lds_channel *channel)
{
    char key[64];
    for (size_t i = 0; i < channel->problems; i++) {
        snprintf(key, sizeof key, "problem.%zu.at", i + 1);
        struct row row = empty_row(sheet, key, channel->problem[i].kind, "s");
        row.value = channel->problem[i].at_s;
        write_row(sheet, &row);
        snprintf(key, sizeof key, "problem.%zu.samples", i + 1);
        row.unit = "count";
        row.value = channel->problem[i].samples;
        write_row(sheet, &row);
        if (!(channel->problem[i].ceiling > 0.0))
            continue;
        snprintf(key, sizeof key, "problem.%zu.ceiling", i + 1);
        row.unit = sheet->calibrated ? "V" : "dBFS";
        /* a peak; in dBFS that of the sine with this peak */
        row.value = sheet->calibrated ? channel->problem[i].ceiling : lds_dbfs(channel->problem[i].ceiling * M_SQRT1_2);
        write_row(sheet, &row);
    }
}

static void write_capture(struct sheet *sheet, const struct lds_measurement *measurement)
{
    sheet->file = measurement->file ? measurement->file : "";
    for (size_t i = 0; i < measurement->channels; i++) {
        const struct lds_channel *channel = &measurement->channel[i];
        sheet->calibrated = channel->calibrated;
        snprintf(sheet->channel, sizeof sheet->channel, "%d", channel->channel);
        write_figures(sheet, channel->figure, channel->figures);
        write_series(sheet, channel->series, channel->series_count);
        write_problems(sheet, channel);
        write_absents(sheet, channel->absent, channel->absents);
    }
    for (size_t i = 0; i < measurement->pairs; i++) {
        const struct lds_pair *pair = &measurement->pair[i];
        snprintf(sheet->channel, sizeof sheet->channel, "%d and %d", pair->channels[0], pair->channels[1]);
        write_figures(sheet, pair->figure, pair->figures);
        write_series(sheet, pair->series, pair->series_count);
        write_absents(sheet, pair->absent, pair->absents);
    }
}

enum lds_status lds_report_csv(const struct lds_measurement *measurement, size_t count, const char *path,
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
        for (size_t i = 0; i < count; i++)
            write_capture(&sheet, &measurement[i]);
        lds_point_locale_leave(&locale);
    }
    if (!sheet.failed)
        return lds_whole_file_commit(&file, error);
    lds_whole_file_abandon(&file);
    return lds_fail_memory(error, "the CSV report");
}
