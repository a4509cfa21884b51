/* The contract "loadside-measurement" version 1 (docs/json.md). Unknown is null, never 0, and nothing but a finite
 * number is ever a number. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "loadside/report.h"
#include "report/figures.h"
#include "report/json_parts.h"
#include "report/json_series.h"

/* To twelve digits: worked out again from a saved value, which has fifteen, it comes out the same. */
static double rounded(double x)
{
    if (!isfinite(x) || x == 0.0)
        return x;
    double scale = pow(10.0, 11.0 - floor(log10(fabs(x))));
    return round(x * scale) / scale;
}

static json_t *figure_object(struct lds_json_maker *maker, const struct lds_figure *figure)
{
    const struct lds_key *row = lds_key_find(figure->key);
    bool counted = strcmp(figure->unit, "count") == 0 || strcmp(figure->unit, "bit") == 0;
    json_t *object = json_object();
    lds_json_put(maker, object, "value", counted ? lds_json_plain(figure->value) : lds_json_real(figure->value));
    lds_json_put(maker, object, "unit", lds_json_text(figure->unit));
    lds_json_put(maker, object, "low", lds_json_real(figure->low));
    lds_json_put(maker, object, "high", lds_json_real(figure->high));
    lds_json_put(maker, object, "u_a", lds_json_real(figure->u_a));
    lds_json_put(maker, object, "u_b", lds_json_real(figure->u_b));
    lds_json_put(maker, object, "dof", lds_json_plain(figure->dof));
    if (row && row->print == LDS_PRINT_RATIO)
        lds_json_put(maker, object, "percent", lds_json_real(rounded(lds_percent(figure->value))));
    if (isfinite(figure->band_hz[0]) && isfinite(figure->band_hz[1]))
        lds_json_put(maker, object, "band_hz",
                     json_pack("[o, o]", lds_json_plain(figure->band_hz[0]), lds_json_plain(figure->band_hz[1])));
    if (figure->orders[1] > 0)
        lds_json_put(maker, object, "orders", json_pack("[i, i]", figure->orders[0], figure->orders[1]));
    if (isfinite(figure->removed_hz))
        lds_json_put(maker, object, "removed_hz", lds_json_real(figure->removed_hz));
    lds_json_put(maker, object, "flags", lds_json_flags(maker, figure->flags));
    return object;
}

static json_t *figures_object(struct lds_json_maker *maker, const struct lds_figure *figure, size_t count)
{
    json_t *object = json_object();
    const struct lds_figure **sorted = lds_figures_sorted(figure, count);
    if (!sorted)
        maker->failed = true;
    for (size_t i = 0; sorted && i < count; i++)
        lds_json_put(maker, object, sorted[i]->key, figure_object(maker, sorted[i]));
    free(sorted);
    return object;
}

static json_t *problems_array(struct lds_json_maker *maker, const struct lds_channel *channel)
{
    json_t *array = json_array();
    for (size_t i = 0; i < channel->problems; i++) {
        const struct lds_problem *problem = &channel->problem[i];
        json_t *object = json_object();
        lds_json_put(maker, object, "kind", lds_json_text(problem->kind));
        lds_json_put(maker, object, "at_s", lds_json_real(problem->at_s));
        lds_json_put(maker, object, "samples", lds_json_plain(problem->samples));
        if (problem->ceiling > 0.0) /* a peak; in dBFS that of the sine with this peak */
            lds_json_put_level(maker, object, channel->calibrated, "ceiling_v", "ceiling_dbfs",
                               channel->calibrated ? problem->ceiling : problem->ceiling * M_SQRT1_2);
        lds_json_append(maker, array, object);
    }
    return array;
}

static json_t *signal_object(struct lds_json_maker *maker, const struct lds_signal *signal)
{
    if (signal->kind == LDS_SIGNAL_NONE)
        return json_null();
    json_t *object = json_object();
    lds_json_put(maker, object, "kind", lds_json_text(lds_signal_name(signal->kind)));
    lds_json_put(maker, object, "stated", json_boolean(signal->stated));
    lds_json_put(maker, object, "delay_s", lds_json_real(signal->delay_s));
    lds_json_put(maker, object, "clock_ppm", lds_json_real(signal->clock_ppm));
    lds_json_put(maker, object, "inverted", signal->inverted < 0 ? json_null() : json_boolean(signal->inverted));
    json_t *frequencies = json_array();
    for (int i = 0; i < 2; i++)
        if (isfinite(signal->frequency_hz[i]))
            lds_json_append(maker, frequencies, lds_json_real(signal->frequency_hz[i]));
    lds_json_put(maker, object, "frequency_hz", frequencies);
    lds_json_put(maker, object, "words", signal->words[0] ? lds_json_text(signal->words) : json_null());
    return object;
}

static json_t *channel_object(struct lds_json_maker *maker, const struct lds_channel *channel)
{
    json_t *object = json_object();
    lds_json_put(maker, object, "channel", json_integer(channel->channel));
    lds_json_put(maker, object, "calibrated", json_boolean(channel->calibrated));
    lds_json_put(maker, object, "signal", signal_object(maker, &channel->signal));
    lds_json_put(maker, object, "figures", figures_object(maker, channel->figure, channel->figures));
    lds_json_put_lines(maker, object, channel->series, channel->series_count, channel->calibrated);
    lds_json_put(maker, object, "problems", problems_array(maker, channel));
    lds_json_put(maker, object, "absent", lds_json_absents(maker, channel->absent, channel->absents));
    lds_json_put_curves(maker, object, channel->series, channel->series_count, channel->calibrated);
    return object;
}

static json_t *pair_object(struct lds_json_maker *maker, const struct lds_pair *pair, bool calibrated)
{
    json_t *object = json_object();
    lds_json_put(maker, object, "channels", json_pack("[i, i]", pair->channels[0], pair->channels[1]));
    lds_json_put(maker, object, "figures", figures_object(maker, pair->figure, pair->figures));
    lds_json_put(maker, object, "absent", lds_json_absents(maker, pair->absent, pair->absents));
    lds_json_put_curves(maker, object, pair->series, pair->series_count, calibrated);
    return object;
}

static json_t *response_array(struct lds_json_maker *maker, const double *value, size_t count)
{
    if (!value || count == 0)
        return json_null();
    json_t *array = json_array();
    for (size_t i = 0; i < count; i++)
        lds_json_append(maker, array, lds_json_real(value[i]));
    return array;
}

static json_t *bench_object(struct lds_json_maker *maker, const struct lds_bench *bench)
{
    json_t *object = json_object();
    lds_json_put(maker, object, "name", lds_json_text(bench->name));
    lds_json_put(maker, object, "full_scale_v", lds_json_real(bench->full_scale_v));
    lds_json_put(maker, object, "attenuation", lds_json_real(bench->attenuation));
    lds_json_put(maker, object, "load_ohm", lds_json_real(bench->load_ohm));
    lds_json_put(maker, object, "dc_coupled", json_boolean(bench->dc_coupled));
    lds_json_put(maker, object, "offset_v", lds_json_real(bench->offset_v));
    lds_json_put(maker, object, "low_corner_hz", lds_json_real(bench->low_corner_hz));
    lds_json_put(maker, object, "usable_to_hz", lds_json_plain(bench->usable_to_hz));
    lds_json_put(maker, object, "clock_ppm", lds_json_real(bench->clock_ppm));
    lds_json_put(maker, object, "calibration_percent", lds_json_real(bench->calibration_percent));
    lds_json_put(maker, object, "load_percent", lds_json_real(bench->load_percent));
    lds_json_put(maker, object, "mains_hz", lds_json_plain(bench->mains_hz));
    lds_json_put(maker, object, "repeat_level_db", lds_json_real(bench->repeat_level_db));
    lds_json_put(maker, object, "repeat_noise_db", lds_json_real(bench->repeat_noise_db));
    lds_json_put(maker, object, "repeat_distortion_db", lds_json_real(bench->repeat_distortion_db));
    lds_json_put(maker, object, "repeat_mains_db", lds_json_real(bench->repeat_mains_db));
    lds_json_put(maker, object, "response_hz", response_array(maker, bench->response_hz, bench->response_points));
    lds_json_put(maker, object, "response_db", response_array(maker, bench->response_db, bench->response_points));
    return object;
}

static json_t *capture_object(struct lds_json_maker *maker, const struct lds_measurement *measurement)
{
    json_t *object = json_object();
    lds_json_put(maker, object, "file", lds_json_text(measurement->file));
    lds_json_put(maker, object, "encoding", measurement->format[0] ? lds_json_text(measurement->format) : json_null());
    lds_json_put(maker, object, "date", measurement->date[0] ? lds_json_text(measurement->date) : json_null());
    lds_json_put(maker, object, "rate_hz", lds_json_plain(measurement->rate_hz));
    lds_json_put(maker, object, "frames", json_integer(measurement->frames));
    lds_json_put(maker, object, "seconds", lds_json_real(measurement->seconds));
    lds_json_put(maker, object, "window_s", lds_json_real(measurement->window_s));
    lds_json_put(maker, object, "averages", json_integer(measurement->averages));
    lds_json_put(maker, object, "bench", bench_object(maker, &measurement->bench));
    lds_json_put(maker, object, "signal", signal_object(maker, &measurement->signal));
    json_t *channels = json_array();
    for (size_t i = 0; i < measurement->channels; i++)
        lds_json_append(maker, channels, channel_object(maker, &measurement->channel[i]));
    lds_json_put(maker, object, "channels", channels);
    json_t *pairs = json_array();
    for (size_t i = 0; i < measurement->pairs; i++)
        lds_json_append(maker, pairs, pair_object(maker, &measurement->pair[i], lds_pairs_calibrated(measurement)));
    lds_json_put(maker, object, "pairs", pairs);
    return object;
}

enum lds_status lds_report_json(const struct lds_measurement *measurement, size_t count, const char *path,
                                struct lds_error *error)
{
    struct lds_json_maker maker = {false};
    json_t *root = lds_json_root(&maker, "loadside-measurement");
    json_t *captures = json_array();
    for (size_t i = 0; i < count; i++)
        lds_json_append(&maker, captures, capture_object(&maker, &measurement[i]));
    lds_json_put(&maker, root, "captures", captures);
    return lds_json_write(&maker, root, path, "the JSON report", error);
}
