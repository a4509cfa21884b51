/* One row a figure, line, limit or region that was compared (docs/csv.md). */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "compare/regions.h"
#include "fail.h"
#include "loadside/report.h"
#include "report/comparison.h"
#include "report/comparison_cells.h"
#include "report/csv_parts.h"
#include "report/figures.h"
#include "report/whole_file.h"

static const char header[] =
    "channel,about,key,label,before,after,value_unit,change,low,high,unit,p,p_adjusted,matters,"
    "word,worse,resolve_seconds,low_hz,high_hz,limit,flags,reason\r\n";

struct row {
    const char *about, *key, *label, *value_unit, *unit, *word, *worse, *reason;
    double before, after, change, low, high, p, p_adjusted, matters, resolve_seconds, low_hz, high_hz, limit;
    unsigned flags;
};

struct sheet {
    FILE *out;
    const struct lds_compared_channel *channel;
    bool failed;
};

static struct row empty_row(const char *about, const char *key, const char *label)
{
    return (struct row){
        .about = about,
        .key = key,
        .label = label,
        .value_unit = "",
        .unit = "",
        .word = "",
        .worse = "",
        .reason = "",
        .before = NAN,
        .after = NAN,
        .change = NAN,
        .low = NAN,
        .high = NAN,
        .p = NAN,
        .p_adjusted = NAN,
        .matters = NAN,
        .resolve_seconds = NAN,
        .low_hz = NAN,
        .high_hz = NAN,
        .limit = NAN,
    };
}

static void write_text(struct sheet *sheet, const char *text)
{
    fputc(',', sheet->out);
    sheet->failed |= !lds_csv_text(sheet->out, text);
}

static void write_numbers(struct sheet *sheet, const double *number, size_t count)
{
    for (size_t i = 0; i < count; i++)
        lds_csv_number(sheet->out, number[i]);
}

static void write_row(struct sheet *sheet, const struct row *row)
{
    fprintf(sheet->out, "%d", sheet->channel->channel);
    write_text(sheet, row->about);
    write_text(sheet, row->key);
    write_text(sheet, row->label);
    write_numbers(sheet, (const double[]){row->before, row->after}, 2);
    write_text(sheet, row->value_unit);
    write_numbers(sheet, (const double[]){row->change, row->low, row->high}, 3);
    write_text(sheet, row->unit);
    write_numbers(sheet, (const double[]){row->p, row->p_adjusted, row->matters}, 3);
    write_text(sheet, row->word);
    write_text(sheet, row->worse);
    write_numbers(sheet, (const double[]){row->resolve_seconds, row->low_hz, row->high_hz, row->limit}, 4);
    lds_csv_flags(sheet->out, row->flags);
    write_text(sheet, row->reason);
    fputs("\r\n", sheet->out);
}

static void write_changes(struct sheet *sheet)
{
    const struct lds_compared_channel *channel = sheet->channel;
    const struct lds_change **sorted = lds_changes_sorted(channel->change, channel->changes);
    sheet->failed |= !sorted;
    for (size_t i = 0; sorted && i < channel->changes; i++) {
        const struct lds_change *change = sorted[i];
        struct row row = empty_row("figure", change->key, lds_csv_label(change->key));
        row.before = change->before;
        row.after = change->after;
        row.value_unit = change->value_unit;
        row.change = change->change;
        row.low = change->low;
        row.high = change->high;
        row.unit = change->unit;
        row.p = change->p;
        row.p_adjusted = change->p_adjusted;
        row.matters = change->matters;
        row.word = change->judged ? lds_word_name(change->word) : "";
        row.worse = change->worse ? "yes" : "no";
        row.resolve_seconds = change->resolve_seconds;
        row.flags = change->flags;
        write_row(sheet, &row);
    }
    free(sorted);
}

static void write_lines(struct sheet *sheet)
{
    const struct lds_compared_channel *channel = sheet->channel;
    size_t other = 0;
    for (size_t i = 0; i < channel->lines; i++) {
        const struct lds_line_change *line = &channel->line[i];
        char key[64], label[64];
        bool ordered = line->kind->match == LDS_MATCH_ORDER;
        snprintf(key, sizeof key, "%s.%zu", line->kind->row_key, ordered ? (size_t)line->order : ++other);
        lds_line_label(line, label, sizeof label);
        struct row row = empty_row("line", key, ordered ? label : line->origin);
        row.before = lds_compared_level(channel, line->before);
        row.after = lds_compared_level(channel, line->after);
        row.value_unit = channel->calibrated ? "V" : "dBFS";
        row.change = line->change_db;
        row.low = line->low_db;
        row.high = line->high_db;
        row.unit = "dB";
        row.word = lds_line_word(line);
        row.worse = line->word == LDS_HIGHER ? "yes" : "no";
        row.low_hz = row.high_hz = line->frequency_hz;
        row.limit = lds_compared_level(channel, line->limit);
        write_row(sheet, &row);
    }
}

/* Regions where the series changed, then its bands or points. */
static void write_axis(struct sheet *sheet, const struct lds_axis_change *axis)
{
    const struct lds_series_kind *kind = axis->kind;
    const char *pair = axis->key + strlen(kind->key); /* ".1-2" */
    bool bands = kind->match == LDS_MATCH_BANDS, hz = kind->column[kind->axis].quantity == LDS_QUANTITY_HZ;
    char key[96], label[160], x[64];
    for (size_t i = 0; i < axis->regions + axis->points; i++) {
        bool region = i < axis->regions;
        size_t at = region ? i : i - axis->regions;
        const struct lds_axis_span *span = region ? &axis->region[at] : &axis->point[at];
        snprintf(key, sizeof key, "%s%s.%zu", region ? kind->region_key : kind->row_key, pair, at + 1);
        lds_axis_x_make(axis, span->x, x, sizeof x);
        snprintf(label, sizeof label, "%s%s%s", kind->change_label ? kind->change_label : kind->row_label,
                 bands ? "" : " at ", bands ? "" : x);
        struct row row = empty_row(region ? "region" : bands ? "density" : "series", key, region ? kind->label : label);
        row.change = span->change;
        row.low = span->low;
        row.high = span->high;
        row.unit = lds_series_change_unit(kind);
        row.low_hz = hz ? span->from : (double)NAN;
        row.high_hz = hz ? span->to : (double)NAN;
        row.flags = span->flags;
        if (region) {
            row.p_adjusted = span->p_adjusted;
            row.word = lds_word_name(span->word);
            row.worse = lds_region_is_worse(kind, span) ? "yes" : "no";
        }
        write_row(sheet, &row);
    }
}

static void write_limits(struct sheet *sheet)
{
    const struct lds_compared_channel *channel = sheet->channel;
    for (size_t i = 0; i < channel->limits; i++) {
        const struct lds_limit_result *limit = &channel->limit[i];
        bool of_change = limit->kind == LDS_CHANGE_AT_MOST;
        struct row row = empty_row(lds_limit_kind_name(limit->kind), limit->key, lds_csv_label(limit->key));
        *(of_change ? &row.change : &row.after) = limit->value;
        *(of_change ? &row.unit : &row.value_unit) = lds_limit_unit(channel, limit);
        row.low = limit->low;
        row.high = limit->high;
        row.word = lds_limit_result_name(limit);
        row.worse = limit->result == LDS_OVER ? "yes" : "no";
        row.limit = limit->limit;
        row.reason = limit->reason ? limit->reason : "";
        write_row(sheet, &row);
    }
}

static void write_channel(struct sheet *sheet)
{
    const struct lds_compared_channel *channel = sheet->channel;
    write_changes(sheet);
    write_lines(sheet);
    for (size_t i = 0; i < channel->axes; i++)
        write_axis(sheet, &channel->axis[i]);
    write_limits(sheet);
    const struct lds_absent **sorted = lds_absents_sorted(channel->not_compared_why, channel->not_compared);
    sheet->failed |= !sorted;
    for (size_t i = 0; sorted && i < channel->not_compared; i++) {
        struct row row = empty_row("not compared", sorted[i]->key, lds_csv_label(sorted[i]->key));
        row.reason = sorted[i]->reason;
        write_row(sheet, &row);
    }
    free(sorted);
}

enum lds_status lds_comparison_csv(const struct lds_comparison *comparison, const char *path, struct lds_error *error)
{
    struct lds_whole_file file;
    enum lds_status status = lds_whole_file_open(&file, path, error);
    if (status != LDS_OK)
        return status;
    struct lds_point_locale locale;
    struct sheet sheet = {.out = file.out, .failed = !lds_point_locale_enter(&locale)};
    if (!sheet.failed) {
        fputs(header, file.out);
        for (size_t i = 0; i < comparison->channels; i++) {
            sheet.channel = &comparison->channel[i];
            write_channel(&sheet);
        }
        lds_point_locale_leave(&locale);
    }
    if (!sheet.failed)
        return lds_whole_file_commit(&file, error);
    lds_whole_file_abandon(&file);
    return lds_fail_memory(error, "the CSV of the comparison");
}
