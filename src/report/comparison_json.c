/* The contract "loadside-comparison" version 1 (docs/json.md). */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "compare/regions.h"
#include "loadside/report.h"
#include "report/comparison.h"
#include "report/figures.h"
#include "report/json_names.h"
#include "report/json_parts.h"

static json_t *files_array(struct lds_json_maker *maker, char *const *file, size_t count)
{
    json_t *array = json_array();
    for (size_t i = 0; i < count; i++) {
        json_t *object = json_object();
        lds_json_put(maker, object, "file", lds_json_text(file[i]));
        lds_json_append(maker, array, object);
    }
    return array;
}

static json_t *change_object(struct lds_json_maker *maker, const struct lds_change *change)
{
    json_t *object = json_object();
    lds_json_put(maker, object, "before", lds_json_real(change->before));
    lds_json_put(maker, object, "after", lds_json_real(change->after));
    lds_json_put(maker, object, "value_unit", lds_json_text(change->value_unit));
    lds_json_put(maker, object, "change", lds_json_real(change->change));
    lds_json_put(maker, object, "unit", lds_json_text(change->unit));
    lds_json_put(maker, object, "low", lds_json_real(change->low));
    lds_json_put(maker, object, "high", lds_json_real(change->high));
    lds_json_put(maker, object, "u", lds_json_real(change->u));
    lds_json_put(maker, object, "dof", lds_json_plain(change->dof));
    lds_json_put(maker, object, "p", lds_json_real(change->p));
    lds_json_put(maker, object, "p_adjusted", lds_json_real(change->p_adjusted));
    lds_json_put(maker, object, "matters", lds_json_real(change->matters));
    lds_json_put(maker, object, "judged", json_boolean(change->judged));
    lds_json_put(maker, object, "word", change->judged ? json_string(lds_word_name(change->word)) : json_null());
    lds_json_put(maker, object, "at_least", json_boolean(change->at_least));
    lds_json_put(maker, object, "worse", json_boolean(change->worse));
    lds_json_put(maker, object, "resolve_seconds", lds_json_real(change->resolve_seconds));
    lds_json_put(maker, object, "flags", lds_json_flags(maker, change->flags));
    return object;
}

static json_t *changes_object(struct lds_json_maker *maker, const struct lds_compared_channel *channel)
{
    json_t *object = json_object();
    const struct lds_change **sorted = lds_changes_sorted(channel->change, channel->changes);
    maker->failed = maker->failed || !sorted;
    for (size_t i = 0; sorted && i < channel->changes; i++)
        lds_json_put(maker, object, sorted[i]->key, change_object(maker, sorted[i]));
    free(sorted);
    return object;
}

static json_t *lines_array(struct lds_json_maker *maker, const struct lds_compared_channel *channel)
{
    json_t *array = json_array();
    bool volts = channel->calibrated;
    for (size_t i = 0; i < channel->lines; i++) {
        const struct lds_line_change *line = &channel->line[i];
        json_t *object = json_object();
        lds_json_put(maker, object, "kind", json_string(line->kind->line));
        lds_json_put(maker, object, "order", line->order > 0 ? json_integer(line->order) : json_null());
        lds_json_put(maker, object, "frequency_hz", lds_json_real(line->frequency_hz));
        lds_json_put_level(maker, object, volts, "before_v", "before_dbfs", line->before);
        lds_json_put_level(maker, object, volts, "after_v", "after_dbfs", line->after);
        lds_json_put_level(maker, object, volts, "limit_v", "limit_dbfs", line->limit);
        lds_json_put(maker, object, "change_db", lds_json_real(line->change_db));
        lds_json_put(maker, object, "low_db", lds_json_real(line->low_db));
        lds_json_put(maker, object, "high_db", lds_json_real(line->high_db));
        lds_json_put(maker, object, "appeared", json_boolean(line->appeared));
        lds_json_put(maker, object, "vanished", json_boolean(line->vanished));
        lds_json_put(maker, object, "word", json_string(lds_word_name(line->word)));
        lds_json_put(maker, object, "origin", line->origin[0] ? lds_json_text(line->origin) : json_null());
        lds_json_append(maker, array, object);
    }
    return array;
}

/* Where along the axis, and what changed there. */
static void put_span(struct lds_json_maker *maker, json_t *object, const struct lds_axis_change *axis,
                     const struct lds_axis_span *span)
{
    enum lds_quantity x = axis->kind->column[axis->kind->axis].quantity;
    bool db = strcmp(lds_series_change_unit(axis->kind), "dB") == 0;
    char low[LDS_JSON_NAME], high[LDS_JSON_NAME];
    lds_json_name("low", x, LDS_IN_VOLTS, low);
    lds_json_name("high", x, LDS_IN_VOLTS, high);
    lds_json_put(maker, object, low, lds_json_real(span->from));
    lds_json_put(maker, object, high, lds_json_real(span->to));
    lds_json_put(maker, object, db ? "change_db" : "change", lds_json_real(span->change));
    lds_json_put(maker, object, db ? "low_db" : "low", lds_json_real(span->low));
    lds_json_put(maker, object, db ? "high_db" : "high", lds_json_real(span->high));
}

static json_t *regions_array(struct lds_json_maker *maker, const struct lds_axis_change *axis)
{
    json_t *array = json_array();
    for (size_t i = 0; i < axis->regions; i++) {
        const struct lds_axis_span *region = &axis->region[i];
        json_t *object = json_object();
        put_span(maker, object, axis, region);
        lds_json_put(maker, object, "p_adjusted", lds_json_real(region->p_adjusted));
        lds_json_put(maker, object, "word", json_string(lds_word_name(region->word)));
        lds_json_put(maker, object, "worse", json_boolean(lds_region_is_worse(axis->kind, region)));
        lds_json_append(maker, array, object);
    }
    return array;
}

static json_t *density_object(struct lds_json_maker *maker, const struct lds_axis_change *axis)
{
    json_t *object = json_object(), *bands = json_array();
    for (size_t i = 0; i < axis->points; i++) {
        json_t *one = json_object();
        lds_json_put(maker, one, "frequency_hz", lds_json_real(axis->point[i].x));
        put_span(maker, one, axis, &axis->point[i]);
        lds_json_put(maker, one, "called", json_boolean(axis->point[i].called));
        lds_json_append(maker, bands, one);
    }
    lds_json_put(maker, object, "regions", regions_array(maker, axis));
    lds_json_put(maker, object, "bands", bands);
    return object;
}

/* As the series themselves: rows of x, change, low and high. */
static json_t *axis_object(struct lds_json_maker *maker, const struct lds_axis_change *axis)
{
    const struct lds_column *x = &axis->kind->column[axis->kind->axis];
    json_t *object = json_object(), *rows = json_array();
    lds_json_put(maker, object, "x", json_string(x->name));
    lds_json_put(maker, object, "x_unit", json_string(lds_quantity_unit(x->quantity, axis->calibrated)));
    lds_json_put(maker, object, "unit", json_string(lds_series_change_unit(axis->kind)));
    for (size_t i = 0; i < axis->points; i++) {
        const struct lds_axis_span *point = &axis->point[i];
        const double numbers[] = {point->x, point->change, point->low, point->high};
        lds_json_append(maker, rows, lds_json_reals(maker, numbers, 4));
    }
    lds_json_put(maker, object, "rows", rows);
    lds_json_put(maker, object, "regions", regions_array(maker, axis));
    return object;
}

/* "density" is always there, "series" where any was compared. */
static void put_axes(struct lds_json_maker *maker, json_t *object, const struct lds_compared_channel *channel)
{
    json_t *series = json_object();
    lds_json_put(maker, object, "density", density_object(maker, lds_compared_axis(channel, "floor")));
    for (size_t i = 0; i < channel->axes; i++)
        if (channel->axis[i].kind->match != LDS_MATCH_BANDS)
            lds_json_put(maker, series, channel->axis[i].key, axis_object(maker, &channel->axis[i]));
    if (json_object_size(series) > 0)
        lds_json_put(maker, object, "series", series);
    else
        json_decref(series);
}

static json_t *limits_array(struct lds_json_maker *maker, const struct lds_compared_channel *channel)
{
    json_t *array = json_array();
    for (size_t i = 0; i < channel->limits; i++) {
        const struct lds_limit_result *limit = &channel->limit[i];
        const char *unit = lds_limit_unit(channel, limit);
        json_t *object = json_object();
        lds_json_put(maker, object, "key", lds_json_text(limit->key));
        lds_json_put(maker, object, "kind", json_string(lds_limit_kind_name(limit->kind)));
        lds_json_put(maker, object, "limit", lds_json_real(limit->limit));
        lds_json_put(maker, object, "unit", unit[0] ? lds_json_text(unit) : json_null());
        lds_json_put(maker, object, "value", lds_json_real(limit->value));
        lds_json_put(maker, object, "low", lds_json_real(limit->low));
        lds_json_put(maker, object, "high", lds_json_real(limit->high));
        lds_json_put(maker, object, "result", json_string(lds_limit_result_name(limit)));
        lds_json_put(maker, object, "reason", lds_json_text(limit->reason));
        lds_json_append(maker, array, object);
    }
    return array;
}

static json_t *channel_object(struct lds_json_maker *maker, const struct lds_compared_channel *channel)
{
    json_t *object = json_object(), *words = json_object();
    lds_json_put(maker, object, "channel", json_integer(channel->channel));
    lds_json_put(maker, object, "calibrated", json_boolean(channel->calibrated));
    lds_json_put(maker, object, "changes", changes_object(maker, channel));
    lds_json_put(maker, object, "not_compared",
                 lds_json_absents(maker, channel->not_compared_why, channel->not_compared));
    lds_json_put(maker, object, "lines", lines_array(maker, channel));
    put_axes(maker, object, channel);
    lds_json_put(maker, object, "limits", limits_array(maker, channel));
    lds_json_put(maker, object, "hints", lds_json_texts(maker, channel->hint, channel->hints));
    for (int i = 0; i < LDS_WORDS; i++)
        lds_json_put(maker, words, lds_word_name((enum lds_word)i), json_integer(channel->words[i]));
    lds_json_put(maker, object, "words", words);
    return object;
}

static json_t *families_object(struct lds_json_maker *maker, const double db[LDS_FAMILIES])
{
    json_t *object = json_object();
    for (int i = LDS_FAMILY_NONE + 1; i < LDS_FAMILIES; i++)
        lds_json_put(maker, object, lds_family_name(i), lds_json_real(db[i]));
    return object;
}

enum lds_status lds_comparison_json(const struct lds_comparison *comparison, const char *path, struct lds_error *error)
{
    struct lds_json_maker maker = {false};
    json_t *root = lds_json_root(&maker, "loadside-comparison"), *channels = json_array();
    lds_json_put(&maker, root, "before", files_array(&maker, comparison->before_file, comparison->before_files));
    lds_json_put(&maker, root, "after", files_array(&maker, comparison->after_file, comparison->after_files));
    lds_json_put(&maker, root, "repeatability", json_string(lds_repeatability_name(comparison->repeatability)));
    lds_json_put(&maker, root, "repeatability_db", families_object(&maker, comparison->repeat_db));
    lds_json_put(&maker, root, "summary", lds_json_text(comparison->summary));
    lds_json_put(&maker, root, "notes", lds_json_texts(&maker, comparison->note, comparison->notes));
    for (size_t i = 0; i < comparison->channels; i++)
        lds_json_append(&maker, channels, channel_object(&maker, &comparison->channel[i]));
    lds_json_put(&maker, root, "channels", channels);
    lds_json_put(&maker, root, "worse", json_boolean(comparison->worse));
    return lds_json_write(&maker, root, path, "the JSON of the comparison", error);
}
