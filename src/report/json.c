/* The contract "loadside-measurement" version 1 (docs/json.md). Unknown is null, never 0, and only finite numbers are
 * written as numbers. */
#include <math.h>
#include <stddef.h>
#include <string.h>

#include "loadside/report.h"
#include "report/figures.h"
#include "report/json_parts.h"
#include "report/reading.h"
#include "saved/names.h"

/* To twelve digits: computed again from a saved value, which has fifteen, it gives the same. */
static double rounded(double x)
{
    if (!isfinite(x) || x == 0.0)
        return x;
    double scale = pow(10.0, 11.0 - floor(log10(fabs(x))));
    return round(x * scale) / scale;
}

json_t *lds_json_figure(const struct lds_figure *figure)
{
    bool counted = lds_unit_is_whole(figure->unit);
    json_t *object =
        lds_json_object(LDS_AS("value", counted ? lds_json_plain(figure->value) : lds_json_real(figure->value)),
                        LDS_TEXT(figure, unit), LDS_REAL(figure, low), LDS_REAL(figure, high), LDS_REAL(figure, u_a),
                        LDS_REAL(figure, u_b), LDS_PLAIN(figure, dof), NULL);
    if (figure->name.row->print == LDS_PRINT_RATIO)
        lds_json_put(object, "percent", lds_json_real(rounded(lds_percent(figure->value))));
    if (isfinite(figure->band_hz[0]) && isfinite(figure->band_hz[1]))
        lds_json_put(object, "band_hz", lds_json_pair(figure->band_hz[0], figure->band_hz[1]));
    if (figure->orders[1] > 0)
        lds_json_put(object, "orders", lds_json_pair(figure->orders[0], figure->orders[1]));
    if (isfinite(figure->removed_hz))
        lds_json_put(object, LDS_REAL(figure, removed_hz));
    if (figure->conditions[0])
        lds_json_put(object, "conditions", lds_json_text(figure->conditions));
    lds_json_put(object, "flags", lds_json_flags(figure->flags));
    return object;
}

/* Places in the list of captures; at: that of the figure's own. */
static json_t *captures_array(const struct lds_figure *figure, size_t at)
{
    json_t *array = json_array();
    lds_json_append(array, json_integer((json_int_t)at));
    for (size_t i = 0; i < figure->others; i++)
        lds_json_append(array, json_integer((json_int_t)at + figure->other[i]));
    return array;
}

static json_t *figures_object(const struct lds_figure *figure, size_t count, size_t at)
{
    json_t *object = json_object();
    for (const struct lds_figure *f = NULL; (f = lds_next_figure(f, figure, count)) != NULL;) {
        json_t *one = lds_json_figure(f);
        if (f->others > 0)
            lds_json_put(one, "captures", captures_array(f, at));
        lds_json_put(object, f->key, one);
    }
    return object;
}

static json_t *problems_array(const struct lds_channel *channel)
{
    json_t *array = json_array();
    for (size_t i = 0; i < channel->problems; i++) {
        const struct lds_problem *problem = &channel->problem[i];
        json_t *object =
            lds_json_object(LDS_TEXT(problem, kind), LDS_REAL(problem, at_s), LDS_PLAIN(problem, samples), NULL);
        if (problem->ceiling > 0.0) /* a peak; in dBFS that of the sine with this peak */
            lds_json_put_level(object, channel->calibrated, "ceiling_v", "ceiling_dbfs",
                               channel->calibrated ? problem->ceiling : problem->ceiling * M_SQRT1_2);
        lds_json_append(array, object);
    }
    return array;
}

static json_t *signal_object(const struct lds_signal *signal)
{
    if (signal->kind == LDS_SIGNAL_NONE)
        return json_null();
    json_t *object =
        lds_json_object(LDS_AS("kind", lds_json_text(lds_signal_name(signal->kind))), LDS_YES(signal, stated),
                        LDS_REAL(signal, delay_s), LDS_REAL(signal, clock_ppm),
                        LDS_AS("inverted", signal->inverted < 0 ? json_null() : json_boolean(signal->inverted)), NULL);
    json_t *frequencies = json_array();
    for (int i = 0; i < 2; i++)
        if (isfinite(signal->frequency_hz[i]))
            lds_json_append(frequencies, lds_json_real(signal->frequency_hz[i]));
    lds_json_set(object, LDS_AS("frequency_hz", frequencies), LDS_WORDS(signal, words), NULL);
    return object;
}

static json_t *channel_object(const struct lds_channel *channel, size_t at)
{
    json_t *object = lds_json_object(LDS_WHOLE(channel, channel), LDS_YES(channel, calibrated),
                                     LDS_AS("signal", signal_object(&channel->signal)),
                                     LDS_AS("figures", figures_object(channel->figure, channel->figures, at)), NULL);
    if (channel->name)
        lds_json_set(object, LDS_TEXT(channel, name), NULL);
    lds_json_put_lines(object, channel->series, channel->series_count, channel->calibrated);
    lds_json_set(object, LDS_AS("problems", problems_array(channel)),
                 LDS_AS("absent", lds_json_absents(channel->absent, channel->absents)), NULL);
    lds_json_put_curves(object, channel->series, channel->series_count, channel->calibrated);
    return object;
}

static json_t *pair_object(const struct lds_pair *pair, bool calibrated, size_t at)
{
    json_t *object = lds_json_object(LDS_AS("channels", lds_json_pair(pair->channels[0], pair->channels[1])),
                                     LDS_AS("figures", figures_object(pair->figure, pair->figures, at)),
                                     LDS_AS("absent", lds_json_absents(pair->absent, pair->absents)), NULL);
    lds_json_put_curves(object, pair->series, pair->series_count, calibrated);
    return object;
}

static json_t *response_array(const double *value, size_t count)
{
    return value && count > 0 ? lds_json_reals(value, count) : json_null();
}

static json_t *bench_value(const void *field, const struct lds_bench_member *member)
{
    switch (member->kind) {
    case LDS_BENCH_REAL:
        return lds_json_real(*(const double *)field);
    case LDS_BENCH_PLAIN:
        return lds_json_plain(*(const double *)field);
    case LDS_BENCH_TEXT:
        return lds_json_text(*(char *const *)field);
    case LDS_BENCH_YES:
        return json_boolean(*(const bool *)field);
    }
    return json_null();
}

static json_t *bench_object(const struct lds_bench *bench)
{
    json_t *object = json_object();
    for (size_t i = 0; i < LDS_BENCH_MEMBERS; i++)
        lds_json_put(object, lds_bench_members[i].name,
                     bench_value((const char *)bench + lds_bench_members[i].offset, &lds_bench_members[i]));
    lds_json_set(object, LDS_AS("response_hz", response_array(bench->response_hz, bench->response_points)),
                 LDS_AS("response_db", response_array(bench->response_db, bench->response_points)), NULL);
    return object;
}

static json_t *capture_object(const struct lds_measurement *measurement, size_t at)
{
    json_t *channels = json_array(), *pairs = json_array();
    for (size_t i = 0; i < measurement->channels; i++) {
        json_t *channel = channel_object(&measurement->channel[i], at);
        const struct lds_bench *own = lds_bench_of(&measurement->bench, measurement->channel[i].channel);
        if (own != &measurement->bench)
            lds_json_put(channel, "bench", bench_object(own));
        lds_json_append(channels, channel);
    }
    for (size_t i = 0; i < measurement->pairs; i++)
        lds_json_append(pairs, pair_object(&measurement->pair[i], lds_pairs_calibrated(measurement), at));
    return lds_json_object(LDS_TEXT(measurement, file), LDS_AS("encoding", lds_json_words(measurement->format)),
                           LDS_WORDS(measurement, date), LDS_PLAIN(measurement, rate_hz),
                           LDS_WHOLE(measurement, frames), LDS_REAL(measurement, seconds),
                           LDS_REAL(measurement, window_s), LDS_WHOLE(measurement, averages),
                           LDS_REAL(measurement, settle_band_v), LDS_AS("bench", bench_object(&measurement->bench)),
                           LDS_AS("signal", signal_object(&measurement->signal)), LDS_AS("channels", channels),
                           LDS_AS("pairs", pairs), NULL);
}

enum lds_status lds_report_json(const struct lds_measurement *measurement, size_t count, const char *path,
                                struct lds_error *error)
{
    json_t *root = lds_json_root("loadside-measurement"), *captures = json_array();
    for (size_t i = 0; i < count; i++)
        lds_json_append(captures, capture_object(&measurement[i], i));
    lds_json_put(root, "captures", captures);
    return lds_json_write(root, path, "the JSON report", error);
}
