/* "loadside-ledger" and "loadside-history", version 1 (docs/json.md). */
#include <math.h>

#include "loadside/report.h"
#include "report/json_parts.h"

static void put_unit(struct lds_json_maker *maker, json_t *object, const struct lds_ledger_unit *unit)
{
    lds_json_put(maker, object, "make", lds_json_text(unit->make));
    lds_json_put(maker, object, "type", lds_json_text(unit->type));
    lds_json_put(maker, object, "serial", lds_json_text(unit->serial));
    lds_json_put(maker, object, "jobs", json_integer((json_int_t)unit->jobs));
    lds_json_put(maker, object, "first_date", lds_json_text(unit->first_date));
    lds_json_put(maker, object, "last_date", lds_json_text(unit->last_date));
}

enum lds_status lds_ledger_units_json(const struct lds_ledger_unit *unit, size_t units, const char *path,
                                      struct lds_error *error)
{
    struct lds_json_maker maker = {false};
    json_t *root = lds_json_root(&maker, "loadside-ledger"), *array = json_array();
    for (size_t i = 0; i < units; i++) {
        json_t *object = json_object();
        put_unit(&maker, object, &unit[i]);
        lds_json_append(&maker, array, object);
    }
    lds_json_put(&maker, root, "units", array);
    return lds_json_write(&maker, root, path, "the JSON of the ledger", error);
}

/* "before", "after", or null where the sheet states no side. */
static json_t *side(enum lds_when when)
{
    return when == LDS_WHEN_ANY ? json_null() : json_string(lds_when_name(when));
}

static json_t *number_or_null(int number)
{
    return number > 0 ? json_integer(number) : json_null();
}

static json_t *capture_object(struct lds_json_maker *maker, const struct lds_ledger_capture *capture)
{
    json_t *object = json_object();
    lds_json_put(maker, object, "name", lds_json_text(capture->name));
    lds_json_put(maker, object, "file", lds_json_text(capture->file));
    lds_json_put(maker, object, "sha256", lds_json_text(capture->sha256));
    lds_json_put(maker, object, "role", json_string(lds_role_name(capture->role)));
    lds_json_put(maker, object, "side", side(capture->when));
    lds_json_put(maker, object, "power_w", lds_json_plain(capture->power_w));
    lds_json_put(maker, object, "load_ohm", lds_json_plain(capture->load_ohm));
    lds_json_put(maker, object, "tone_hz", lds_json_plain(capture->tone_hz));
    lds_json_put(maker, object, "channel", number_or_null(capture->channel));
    lds_json_put(maker, object, "repeat", number_or_null(capture->repeat));
    lds_json_put(maker, object, "note", lds_json_text(capture->note));
    lds_json_put(maker, object, "seconds", lds_json_plain(capture->seconds));
    lds_json_put(maker, object, "rate_hz", lds_json_plain(capture->rate_hz));
    return object;
}

static json_t *job_object(struct lds_json_maker *maker, const struct lds_ledger_job *job)
{
    json_t *object = json_object(), *parts = json_array(), *captures = json_array();
    lds_json_put(maker, object, "date", lds_json_text(job->date));
    lds_json_put(maker, object, "client", lds_json_text(job->client));
    lds_json_put(maker, object, "work", lds_json_text(job->work));
    lds_json_put(maker, object, "program", lds_json_text(job->program));
    for (size_t i = 0; i < job->parts; i++) {
        json_t *part = json_object();
        lds_json_put(maker, part, "name", lds_json_text(job->part[i].name));
        lds_json_put(maker, part, "before", lds_json_text(job->part[i].before));
        lds_json_put(maker, part, "after", lds_json_text(job->part[i].after));
        lds_json_append(maker, parts, part);
    }
    for (size_t i = 0; i < job->captures; i++)
        lds_json_append(maker, captures, capture_object(maker, &job->capture[i]));
    lds_json_put(maker, object, "parts", parts);
    lds_json_put(maker, object, "captures", captures);
    return object;
}

static json_t *point_object(struct lds_json_maker *maker, const struct lds_ledger_history *history,
                            const struct lds_ledger_point *point)
{
    json_t *object = json_object();
    lds_json_put(maker, object, "job", json_integer((json_int_t)point->job + 1));
    lds_json_put(maker, object, "date", lds_json_text(history->job[point->job].date));
    lds_json_put(maker, object, "side", side(point->when));
    lds_json_put(maker, object, "captures", json_integer((json_int_t)point->captures));
    lds_json_put(maker, object, "value", lds_json_real(point->value));
    lds_json_put(maker, object, "low", lds_json_real(point->low));
    lds_json_put(maker, object, "high", lds_json_real(point->high));
    lds_json_put(maker, object, "flags", lds_json_flags(maker, point->flags));
    return object;
}

static json_t *standing_object(struct lds_json_maker *maker, const struct lds_ledger_standing *standing)
{
    if (standing->units == 0)
        return json_null();
    json_t *object = json_object();
    lds_json_put(maker, object, "units", json_integer((json_int_t)standing->units));
    lds_json_put(maker, object, "known", json_integer((json_int_t)standing->known));
    lds_json_put(maker, object, "lower", json_integer((json_int_t)standing->lower));
    lds_json_put(maker, object, "alike", json_integer((json_int_t)standing->alike));
    lds_json_put(maker, object, "higher", json_integer((json_int_t)standing->higher));
    lds_json_put(maker, object, "median", lds_json_real(standing->median));
    lds_json_put(maker, object, "spread", lds_json_real(standing->spread));
    return object;
}

static json_t *pair_array(struct lds_json_maker *maker, double first, double second)
{
    json_t *array = json_array();
    lds_json_append(maker, array, lds_json_plain(first));
    lds_json_append(maker, array, lds_json_plain(second));
    return array;
}

static json_t *series_object(struct lds_json_maker *maker, const struct lds_ledger_history *history,
                             const struct lds_ledger_series *series)
{
    json_t *object = json_object(), *points = json_array();
    bool band = isfinite(series->band_hz[0]) && isfinite(series->band_hz[1]);
    lds_json_put(maker, object, "key", lds_json_text(series->key));
    lds_json_put(maker, object, "unit", lds_json_text(series->unit));
    lds_json_put(maker, object, "role", json_string(lds_role_name(series->role)));
    lds_json_put(maker, object, "power_w", lds_json_plain(series->power_w));
    lds_json_put(maker, object, "load_ohm", lds_json_plain(series->load_ohm));
    lds_json_put(maker, object, "tone_hz", lds_json_plain(series->tone_hz));
    lds_json_put(maker, object, "rate_hz", lds_json_plain(series->rate_hz));
    lds_json_put(maker, object, "channel", json_integer(series->channel));
    lds_json_put(maker, object, "other_channel", number_or_null(series->other));
    lds_json_put(maker, object, "band_hz",
                 band ? pair_array(maker, series->band_hz[0], series->band_hz[1]) : json_null());
    lds_json_put(maker, object, "orders",
                 series->orders[1] > 0 ? pair_array(maker, series->orders[0], series->orders[1]) : json_null());
    lds_json_put(maker, object, "main", json_boolean(series->main));
    for (size_t i = 0; i < series->points; i++)
        lds_json_append(maker, points, point_object(maker, history, &series->point[i]));
    lds_json_put(maker, object, "points", points);
    lds_json_put(maker, object, "standing", standing_object(maker, &series->standing));
    return object;
}

enum lds_status lds_history_json(const struct lds_ledger_history *history, const char *path, struct lds_error *error)
{
    struct lds_json_maker maker = {false};
    json_t *root = lds_json_root(&maker, "loadside-history"), *unit = json_object(), *jobs = json_array(),
           *series = json_array();
    put_unit(&maker, unit, &history->unit);
    lds_json_put(&maker, root, "unit", unit);
    lds_json_put(&maker, root, "population", json_integer((json_int_t)history->population));
    lds_json_put(&maker, root, "without_serial", json_integer((json_int_t)history->unnamed));
    for (size_t i = 0; i < history->jobs; i++)
        lds_json_append(&maker, jobs, job_object(&maker, &history->job[i]));
    for (size_t i = 0; i < history->series; i++)
        lds_json_append(&maker, series, series_object(&maker, history, &history->serie[i]));
    lds_json_put(&maker, root, "jobs", jobs);
    lds_json_put(&maker, root, "series", series);
    return lds_json_write(&maker, root, path, "the JSON of the history", error);
}
