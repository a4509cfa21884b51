/* One row for each figure, line, limit or region that was compared (docs/csv.md). */
#include <math.h>
#include <string.h>

#include "compare/regions.h"
#include "loadside/report.h"
#include "report/comparison_cells.h"
#include "report/csv_parts.h"
#include "report/json_parts.h"

static const char columns[] =
    "channel,about,key,label,before,after,value_unit,change,low,high,unit,p,p_adjusted,matters,"
    "word,worse,resolve_seconds,low_hz,high_hz,limit,flags,reason\r\n";

/* Where rows go, and their channel. */
struct sheet {
    struct lds_csv_sheet csv;
    const struct lds_compared_channel *channel;
};

static json_t *new_row(const struct sheet *sheet, const char *about, const char *key, const char *label)
{
    return lds_json_object(LDS_WHOLE(sheet->channel, channel), LDS_AS("about", json_string(about)),
                           LDS_AS("key", lds_json_text(key)), LDS_AS("label", lds_json_text(label)), NULL);
}

/* A level of a line in the unit in which it is printed. */
static json_t *level(const struct sheet *sheet, double linear)
{
    return lds_json_real(lds_compared_level(sheet->channel, linear));
}

static void write_changes(struct sheet *sheet)
{
    const struct lds_compared_channel *channel = sheet->channel;
    for (const struct lds_change *one = NULL; (one = lds_next_change(one, channel->change, channel->changes)) != NULL;)
        lds_csv_row(&sheet->csv, new_row(sheet, "figure", one->key, lds_csv_label(one->key)), lds_json_change(one));
}

static void write_lines(struct sheet *sheet)
{
    const struct lds_compared_channel *channel = sheet->channel;
    const struct lds_series_kind *last = NULL;
    size_t other = 0; /* of its kind */
    for (size_t i = 0; i < channel->lines; i++) {
        const struct lds_line_change *line = &channel->line[i];
        bool ordered = line->kind->match == LDS_MATCH_ORDER;
        other = line->kind == last ? other : 0;
        last = line->kind;
        const struct lds_short key = lds_short("%s.%zu", line->kind->row_key, ordered ? (size_t)line->order : ++other);
        lds_csv_row(
            &sheet->csv, new_row(sheet, "line", key.text, ordered ? lds_line_label(line).text : line->origin),
            lds_json_object(LDS_AS("before", level(sheet, line->before)), LDS_AS("after", level(sheet, line->after)),
                            LDS_AS("value_unit", json_string(channel->calibrated ? "V" : "dBFS")),
                            LDS_AS("change", lds_json_real(line->change_db)),
                            LDS_AS("low", lds_json_real(line->low_db)), LDS_AS("high", lds_json_real(line->high_db)),
                            LDS_AS("unit", json_string("dB")), LDS_AS("word", json_string(lds_line_word(line))),
                            LDS_AS("worse", json_boolean(line->word == LDS_HIGHER)),
                            LDS_AS("low_hz", lds_json_real(line->frequency_hz)),
                            LDS_AS("high_hz", lds_json_real(line->frequency_hz)),
                            LDS_AS("limit", level(sheet, line->limit)), NULL));
    }
}

/* Regions where the series changed, then its bands or points. */
static void write_axis(struct sheet *sheet, const struct lds_axis_change *axis)
{
    const struct lds_series_kind *kind = axis->kind;
    const char *pair = axis->key + strlen(kind->key); /* ".1-2" */
    bool bands = kind->match == LDS_MATCH_BANDS, hz = kind->column[kind->axis].quantity == LDS_QUANTITY_HZ;
    for (size_t i = 0; i < axis->regions + axis->points; i++) {
        bool region = i < axis->regions;
        size_t at = region ? i : i - axis->regions;
        const struct lds_axis_span *span = region ? &axis->region[at] : &axis->point[at];
        const struct lds_label key = lds_label("%s%s.%zu", region ? kind->region_key : kind->row_key, pair, at + 1),
                               label = lds_label("%s%s%s", kind->change_label ? kind->change_label : kind->row_label,
                                                 bands ? "" : " at ", bands ? "" : lds_axis_x(axis, span->x).text);
        const char *about = region ? "region" : bands ? "density" : "series";
        json_t *row = new_row(sheet, about, key.text, region ? kind->label : label.text);
        lds_json_set(row, LDS_REAL(span, change), LDS_REAL(span, low), LDS_REAL(span, high),
                     LDS_AS("unit", json_string(lds_series_change_unit(kind))),
                     LDS_AS("low_hz", lds_json_real(hz ? span->from : (double)NAN)),
                     LDS_AS("high_hz", lds_json_real(hz ? span->to : (double)NAN)),
                     LDS_AS("flags", lds_json_flags(span->flags)), NULL);
        if (region)
            lds_json_set(row, LDS_REAL(span, p_adjusted), LDS_AS("word", json_string(lds_word_name(span->word))),
                         LDS_AS("worse", json_boolean(lds_region_is_worse(kind, span))), NULL);
        lds_csv_row(&sheet->csv, row, NULL);
    }
}

static void write_limits(struct sheet *sheet)
{
    const struct lds_compared_channel *channel = sheet->channel;
    for (size_t i = 0; i < channel->limits; i++) {
        const struct lds_limit_result *limit = &channel->limit[i];
        bool of_change = limit->kind == LDS_CHANGE_AT_MOST;
        lds_csv_row(
            &sheet->csv, new_row(sheet, lds_limit_kind_name(limit->kind), limit->key, lds_csv_label(limit->key)),
            lds_json_object(LDS_AS(of_change ? "change" : "after", lds_json_real(limit->value)),
                            LDS_AS(of_change ? "unit" : "value_unit", lds_json_text(lds_limit_unit(channel, limit))),
                            LDS_REAL(limit, low), LDS_REAL(limit, high),
                            LDS_AS("word", json_string(lds_limit_result_name(limit))),
                            LDS_AS("worse", json_boolean(limit->result == LDS_OVER)), LDS_REAL(limit, limit),
                            LDS_TEXT(limit, reason), NULL));
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
    for (const struct lds_absent *one = NULL;
         (one = lds_next_absent(one, channel->not_compared_why, channel->not_compared)) != NULL;)
        lds_csv_row(&sheet->csv, new_row(sheet, "not compared", one->key, lds_csv_label(one->key)),
                    lds_json_object(LDS_TEXT(one, reason), NULL));
}

enum lds_status lds_comparison_csv(const struct lds_comparison *comparison, const char *path, struct lds_error *error)
{
    struct sheet sheet;
    enum lds_status status = lds_csv_begin(&sheet.csv, columns, path, error);
    if (status != LDS_OK)
        return status;
    for (size_t i = 0; i < comparison->channels; i++) {
        sheet.channel = &comparison->channel[i];
        write_channel(&sheet);
    }
    return lds_csv_finish(&sheet.csv, error);
}
