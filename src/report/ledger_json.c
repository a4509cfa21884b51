/* "loadside-ledger" and "loadside-history", version 1 (docs/json.md). */
#include "loadside/report.h"
#include "report/json_parts.h"

json_t *lds_json_ledger_unit(const void *element)
{
    const struct lds_ledger_unit *unit = element;
    return lds_json_object(LDS_TEXT(unit, make), LDS_TEXT(unit, type), LDS_TEXT(unit, serial), LDS_WHOLE(unit, jobs),
                           LDS_TEXT(unit, first_date), LDS_TEXT(unit, last_date), NULL);
}

enum lds_status lds_ledger_units_json(const struct lds_ledger_unit *unit, size_t units, const char *path,
                                      struct lds_error *error)
{
    json_t *root = lds_json_root("loadside-ledger");
    lds_json_put(root, "units", LDS_LIST(unit, units, lds_json_ledger_unit));
    return lds_json_write(root, path, "the JSON of the ledger", error);
}

/* "before", "after", or null if the sheet states no side. */
static json_t *side(enum lds_when when)
{
    return when == LDS_WHEN_ANY ? json_null() : json_string(lds_when_name(when));
}

static json_t *name_object(const void *element)
{
    const struct lds_channel_name *one = element;
    return lds_json_object(LDS_WHOLE(one, channel), LDS_TEXT(one, name), NULL);
}

static json_t *capture_object(const void *element)
{
    const struct lds_ledger_capture *capture = element;
    return lds_json_object(LDS_TEXT(capture, name), LDS_TEXT(capture, file), LDS_TEXT(capture, sha256),
                           LDS_AS("role", json_string(capture->role->name)), LDS_AS("side", side(capture->when)),
                           LDS_PLAIN(capture, power_w), LDS_PLAIN(capture, load_ohm), LDS_PLAIN(capture, tone_hz),
                           LDS_AS("channel", lds_json_ordinal(capture->channel)),
                           LDS_AS("repeat", lds_json_ordinal(capture->repeat)), LDS_TEXT(capture, note),
                           LDS_PLAIN(capture, seconds), LDS_PLAIN(capture, rate_hz),
                           LDS_AS("channel_names", LDS_LIST(capture->channel_name, capture->names, name_object)), NULL);
}

static json_t *part_object(const void *element)
{
    const struct lds_part *part = element;
    return lds_json_object(LDS_TEXT(part, name), LDS_TEXT(part, before), LDS_TEXT(part, after), NULL);
}

static json_t *job_object(const void *element)
{
    const struct lds_ledger_job *job = element;
    return lds_json_object(LDS_TEXT(job, date), LDS_TEXT(job, client), LDS_TEXT(job, work), LDS_TEXT(job, program),
                           LDS_AS("parts", LDS_LIST(job->part, job->parts, part_object)),
                           LDS_AS("captures", LDS_LIST(job->capture, job->captures, capture_object)), NULL);
}

static json_t *point_object(const struct lds_ledger_history *history, const struct lds_ledger_point *point)
{
    return lds_json_object(LDS_AS("job", json_integer((json_int_t)point->job + 1)),
                           LDS_AS("date", lds_json_text(history->job[point->job].date)),
                           LDS_AS("side", side(point->when)), LDS_WHOLE(point, captures), LDS_REAL(point, value),
                           LDS_REAL(point, low), LDS_REAL(point, high), LDS_AS("flags", lds_json_flags(point->flags)),
                           NULL);
}

static json_t *standing_object(const struct lds_ledger_standing *standing)
{
    if (standing->units == 0)
        return json_null();
    return lds_json_object(LDS_WHOLE(standing, units), LDS_WHOLE(standing, known), LDS_WHOLE(standing, lower),
                           LDS_WHOLE(standing, alike), LDS_WHOLE(standing, higher), LDS_REAL(standing, median),
                           LDS_REAL(standing, spread), NULL);
}

static json_t *series_object(const struct lds_ledger_history *history, const struct lds_ledger_series *series)
{
    json_t *points = json_array();
    for (size_t i = 0; i < series->points; i++)
        lds_json_append(points, point_object(history, &series->point[i]));
    return lds_json_object(
        LDS_TEXT(series, key), LDS_TEXT(series, unit), LDS_AS("role", json_string(series->role->name)),
        LDS_PLAIN(series, power_w), LDS_PLAIN(series, load_ohm), LDS_PLAIN(series, tone_hz), LDS_PLAIN(series, rate_hz),
        LDS_WHOLE(series, channel), LDS_TEXT(series, channel_name),
        LDS_AS("other_channel", lds_json_ordinal(series->other)),
        LDS_AS("other_channel_name", lds_json_text(series->other_name)),
        LDS_AS("band_hz", lds_json_pair(series->band_hz[0], series->band_hz[1])),
        LDS_AS("orders", series->orders[1] > 0 ? lds_json_pair(series->orders[0], series->orders[1]) : json_null()),
        LDS_YES(series, main), LDS_AS("points", points), LDS_AS("standing", standing_object(&series->standing)), NULL);
}

enum lds_status lds_history_json(const struct lds_ledger_history *history, const char *path, struct lds_error *error)
{
    json_t *root = lds_json_root("loadside-history"), *series = json_array();
    for (size_t i = 0; i < history->series; i++)
        lds_json_append(series, series_object(history, &history->serie[i]));
    lds_json_set(root, LDS_AS("unit", lds_json_ledger_unit(&history->unit)), LDS_WHOLE(history, population),
                 LDS_AS("without_serial", json_integer((json_int_t)history->unnamed)),
                 LDS_AS("jobs", LDS_LIST(history->job, history->jobs, job_object)), LDS_AS("series", series), NULL);
    return lds_json_write(root, path, "the JSON of the history", error);
}
