/* The contract "loadside-comparison" version 1 (docs/json.md). */
#include <math.h>
#include <string.h>

#include "compare/regions.h"
#include "loadside/answer.h"
#include "loadside/report.h"
#include "report/comparison_cells.h"
#include "report/figures.h"
#include "report/json_parts.h"
#include "saved/names.h"
#include "scarce.h"

static json_t *file_object(const void *element)
{
    return lds_json_object(LDS_AS("file", lds_json_text(*(char *const *)element)), NULL);
}

json_t *lds_json_change(const struct lds_change *change)
{
    return lds_json_object(LDS_REAL(change, before), LDS_REAL(change, after), LDS_TEXT(change, value_unit),
                           LDS_REAL(change, change), LDS_TEXT(change, unit), LDS_REAL(change, low),
                           LDS_REAL(change, high), LDS_REAL(change, u), LDS_PLAIN(change, dof), LDS_REAL(change, p),
                           LDS_REAL(change, p_adjusted), LDS_REAL(change, matters), LDS_YES(change, judged),
                           LDS_AS("word", change->judged ? json_string(lds_word_name(change->word)) : json_null()),
                           LDS_YES(change, at_least), LDS_YES(change, worse), LDS_REAL(change, resolve_seconds),
                           LDS_AS("flags", lds_json_flags(change->flags)), NULL);
}

static json_t *changes_object(const struct lds_compared_channel *channel)
{
    json_t *object = json_object();
    for (const struct lds_change *one = NULL; (one = lds_next_change(one, channel->change, channel->changes)) != NULL;)
        lds_json_put(object, one->key, lds_json_change(one));
    return object;
}

static json_t *lines_array(const struct lds_compared_channel *channel)
{
    json_t *array = json_array();
    bool volts = channel->calibrated;
    for (size_t i = 0; i < channel->lines; i++) {
        const struct lds_line_change *line = &channel->line[i];
        json_t *object =
            lds_json_object(LDS_AS("kind", json_string(line->kind->line)),
                            LDS_AS("order", lds_json_ordinal(line->order)), LDS_REAL(line, frequency_hz), NULL);
        lds_json_put_level(object, volts, "before_v", "before_dbfs", line->before);
        lds_json_put_level(object, volts, "after_v", "after_dbfs", line->after);
        lds_json_put_level(object, volts, "limit_v", "limit_dbfs", line->limit);
        lds_json_set(object, LDS_REAL(line, change_db), LDS_REAL(line, low_db), LDS_REAL(line, high_db),
                     LDS_YES(line, appeared), LDS_YES(line, vanished),
                     LDS_AS("word", json_string(lds_word_name(line->word))), LDS_WORDS(line, origin), NULL);
        lds_json_append(array, object);
    }
    return array;
}

/* The range on the axis, and its change. */
static void put_span(json_t *object, const struct lds_axis_change *axis, const struct lds_axis_span *span)
{
    enum lds_quantity x = axis->kind->column[axis->kind->axis].quantity;
    bool db = strcmp(lds_series_change_unit(axis->kind), "dB") == 0;
    char low[LDS_JSON_NAME], high[LDS_JSON_NAME];
    lds_json_name("low", x, LDS_IN_VOLTS, low);
    lds_json_name("high", x, LDS_IN_VOLTS, high);
    lds_json_set(object, LDS_AS(low, lds_json_real(span->from)), LDS_AS(high, lds_json_real(span->to)),
                 LDS_AS(db ? "change_db" : "change", lds_json_real(span->change)),
                 LDS_AS(db ? "low_db" : "low", lds_json_real(span->low)),
                 LDS_AS(db ? "high_db" : "high", lds_json_real(span->high)),
                 LDS_AS("flags", lds_json_flags(span->flags)), NULL);
}

static json_t *regions_array(const struct lds_axis_change *axis)
{
    json_t *array = json_array();
    for (size_t i = 0; i < axis->regions; i++) {
        const struct lds_axis_span *region = &axis->region[i];
        json_t *object = json_object();
        put_span(object, axis, region);
        lds_json_set(object, LDS_REAL(region, p_adjusted), LDS_AS("word", json_string(lds_word_name(region->word))),
                     LDS_AS("worse", json_boolean(lds_region_is_worse(axis->kind, region))), NULL);
        lds_json_append(array, object);
    }
    return array;
}

static json_t *density_object(const struct lds_axis_change *axis)
{
    json_t *bands = json_array();
    for (size_t i = 0; i < axis->points; i++) {
        json_t *one = lds_json_object(LDS_AS("frequency_hz", lds_json_real(axis->point[i].x)), NULL);
        put_span(one, axis, &axis->point[i]);
        lds_json_put(one, "called", json_boolean(axis->point[i].called));
        lds_json_append(bands, one);
    }
    return lds_json_object(LDS_AS("regions", regions_array(axis)), LDS_AS("bands", bands), NULL);
}

/* Like the series themselves: rows of x, change, low and high. */
static json_t *axis_object(const struct lds_axis_change *axis)
{
    const struct lds_column *x = &axis->kind->column[axis->kind->axis];
    json_t *rows = json_array(), *flags = json_array();
    for (size_t i = 0; i < axis->points; i++) {
        const struct lds_axis_span *point = &axis->point[i];
        const double numbers[] = {point->x, point->change, point->low, point->high};
        lds_json_append(rows, lds_json_reals(numbers, 4));
        lds_json_append(flags, lds_json_flags(point->flags));
    }
    json_t *object = lds_json_object(LDS_AS("x", json_string(x->name)),
                                     LDS_AS("x_unit", json_string(lds_quantity_unit(x->quantity, axis->calibrated))),
                                     LDS_AS("unit", json_string(lds_series_change_unit(axis->kind))),
                                     LDS_AS("rows", rows), LDS_AS("regions", regions_array(axis)), NULL);
    lds_json_put_row_flags(object, flags);
    return object;
}

/* "density" is always there, "series" if any was compared. */
static void put_axes(json_t *object, const struct lds_compared_channel *channel)
{
    json_t *series = json_object();
    lds_json_put(object, "density",
                 density_object(lds_compared_axis(channel, lds_series_kind_of(LDS_SERIES_FLOOR)->key)));
    for (size_t i = 0; i < channel->axes; i++)
        if (channel->axis[i].kind->match != LDS_MATCH_BANDS)
            lds_json_put(series, channel->axis[i].key, axis_object(&channel->axis[i]));
    lds_json_put_unless_empty(object, "series", series);
}

static json_t *limits_array(const struct lds_compared_channel *channel)
{
    json_t *array = json_array();
    for (size_t i = 0; i < channel->limits; i++) {
        const struct lds_limit_result *limit = &channel->limit[i];
        const char *unit = lds_limit_unit(channel, limit);
        lds_json_append(array, lds_json_object(LDS_TEXT(limit, key),
                                               LDS_AS("kind", json_string(lds_limit_kind_name(limit->kind))),
                                               LDS_REAL(limit, limit), LDS_AS("unit", lds_json_words(unit)),
                                               LDS_REAL(limit, value), LDS_REAL(limit, low), LDS_REAL(limit, high),
                                               LDS_AS("result", json_string(lds_limit_result_name(limit))),
                                               LDS_TEXT(limit, reason), NULL));
    }
    return array;
}

static json_t *channel_object(const void *element)
{
    const struct lds_compared_channel *channel = element;
    json_t *words = json_object();
    json_t *object = lds_json_object(
        LDS_WHOLE(channel, channel), LDS_YES(channel, calibrated), LDS_AS("changes", changes_object(channel)),
        LDS_AS("not_compared", lds_json_absents(channel->not_compared_why, channel->not_compared)),
        LDS_AS("lines", lines_array(channel)), NULL);
    if (channel->name)
        lds_json_set(object, LDS_TEXT(channel, name), NULL);
    put_axes(object, channel);
    for (int i = 0; i < LDS_WORDS; i++)
        lds_json_put(words, lds_word_name((enum lds_word)i), json_integer(channel->words[i]));
    lds_json_set(object, LDS_AS("limits", limits_array(channel)),
                 LDS_AS("hints", lds_json_texts(channel->hint, channel->hints)), LDS_AS("words", words), NULL);
    return object;
}

static json_t *families_object(const double db[LDS_FAMILIES])
{
    json_t *object = json_object();
    for (int i = LDS_FAMILY_NONE + 1; i < LDS_FAMILIES; i++)
        lds_json_put(object, lds_family_name(i), lds_json_real(db[i]));
    return object;
}

static json_t *summary(const struct lds_comparison *comparison)
{
    const struct lds_answer_group group = {.comparison = comparison};
    struct lds_answer answer;
    if (lds_answer_make(&answer, &group, 1, NULL) != LDS_OK)
        lds_scarce_note();
    json_t *text = answer.verdict ? json_string(answer.verdict) : NULL;
    lds_answer_free(&answer);
    return text;
}

enum lds_status lds_comparison_json(const struct lds_comparison *comparison, const char *path, struct lds_error *error)
{
    json_t *root = lds_json_root("loadside-comparison");
    lds_json_set(root, LDS_AS("before", LDS_LIST(comparison->before_file, comparison->before_files, file_object)),
                 LDS_AS("after", LDS_LIST(comparison->after_file, comparison->after_files, file_object)),
                 LDS_AS("repeatability", json_string(lds_repeatability_name(comparison->repeatability))),
                 LDS_AS("repeatability_db", families_object(comparison->repeat_db)),
                 LDS_AS("summary", summary(comparison)),
                 LDS_AS("notes", lds_json_texts(comparison->note, comparison->notes)),
                 LDS_AS("channels", LDS_LIST(comparison->channel, comparison->channels, channel_object)),
                 LDS_YES(comparison, worse), NULL);
    return lds_json_write(root, path, "the JSON of the comparison", error);
}
