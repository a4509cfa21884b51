/* The contract "loadside-measurement" version 1 (docs/json.md). Unknown is null, never 0, and nothing but a finite
 * number is ever a number. */
#include <jansson.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "fail.h"
#include "loadside/loadside.h"
#include "report/figures.h"
#include "report/whole_file.h"
#include "report/words.h"

/* Digits of a real: 15 give back every decimal that was written with as many, and print -90.4 as -90.4. */
enum { DIGITS = 15 };

/* What is being written, and whether memory ran out on the way. */
struct maker {
    bool failed;
};

static void put(struct maker *maker, json_t *object, const char *key, json_t *value)
{
    if (json_object_set_new(object, key, value) != 0)
        maker->failed = true;
}

static void append(struct maker *maker, json_t *array, json_t *value)
{
    if (json_array_append_new(array, value) != 0)
        maker->failed = true;
}

static json_t *real(double number)
{
    return isfinite(number) ? json_real(number) : json_null();
}

/* Counts, rates and band edges: without a point when they are whole. */
static json_t *plain(double number)
{
    if (isfinite(number) && number == floor(number) && fabs(number) < 1e15)
        return json_integer((json_int_t)number);
    return real(number);
}

static json_t *text(const char *words)
{
    if (!words)
        return json_null();
    char *clean = lds_words_clean(words);
    json_t *string = clean ? json_string(clean) : NULL;
    free(clean);
    return string;
}

/* rms levels: volts, or null with the level in dBFS beside it. */
static void put_level(struct maker *maker, json_t *object, bool calibrated, const char *volts, const char *dbfs,
                      double level)
{
    put(maker, object, volts, calibrated ? real(level) : json_null());
    if (!calibrated)
        put(maker, object, dbfs, real(lds_dbfs(level)));
}

static json_t *flags_array(struct maker *maker, unsigned flags)
{
    json_t *array = json_array();
    for (int i = 0; i < LDS_FLAGS; i++)
        if (flags & 1u << i)
            append(maker, array, json_string(lds_flag_name((enum lds_flag)(1u << i))));
    return array;
}

static json_t *figure_object(struct maker *maker, const struct lds_figure *figure)
{
    const struct lds_key *row = lds_key_find(figure->key);
    bool counted = strcmp(figure->unit, "count") == 0 || strcmp(figure->unit, "bit") == 0;
    json_t *object = json_object();
    put(maker, object, "value", counted ? plain(figure->value) : real(figure->value));
    put(maker, object, "unit", text(figure->unit));
    put(maker, object, "low", real(figure->low));
    put(maker, object, "high", real(figure->high));
    put(maker, object, "u_a", real(figure->u_a));
    put(maker, object, "u_b", real(figure->u_b));
    put(maker, object, "dof", plain(figure->dof));
    if (row && row->print == LDS_PRINT_RATIO)
        put(maker, object, "percent", real(lds_percent(figure->value)));
    if (isfinite(figure->band_hz[0]) && isfinite(figure->band_hz[1]))
        put(maker, object, "band_hz", json_pack("[o, o]", plain(figure->band_hz[0]), plain(figure->band_hz[1])));
    if (figure->orders[1] > 0)
        put(maker, object, "orders", json_pack("[i, i]", figure->orders[0], figure->orders[1]));
    if (isfinite(figure->removed_hz))
        put(maker, object, "removed_hz", real(figure->removed_hz));
    put(maker, object, "flags", flags_array(maker, figure->flags));
    return object;
}

static json_t *figures_object(struct maker *maker, const struct lds_figure *figure, size_t count)
{
    json_t *object = json_object();
    const struct lds_figure **sorted = lds_figures_sorted(figure, count);
    if (!sorted)
        maker->failed = true;
    for (size_t i = 0; sorted && i < count; i++)
        put(maker, object, sorted[i]->key, figure_object(maker, sorted[i]));
    free(sorted);
    return object;
}

static json_t *absent_object(struct maker *maker, const struct lds_absent *absent, size_t count)
{
    json_t *object = json_object();
    const struct lds_absent **sorted = lds_absents_sorted(absent, count);
    if (!sorted)
        maker->failed = true;
    for (size_t i = 0; sorted && i < count; i++)
        put(maker, object, sorted[i]->key, text(sorted[i]->reason));
    free(sorted);
    return object;
}

static json_t *harmonics_array(struct maker *maker, const struct lds_channel *channel)
{
    json_t *array = json_array();
    for (size_t i = 0; i < channel->harmonics; i++) {
        const struct lds_line *line = &channel->harmonic[i];
        json_t *object = json_object();
        put(maker, object, "order", json_integer(line->order));
        put(maker, object, "frequency_hz", real(line->frequency_hz));
        put_level(maker, object, channel->calibrated, "level_v", "level_dbfs", line->level);
        put_level(maker, object, channel->calibrated, "low_v", "low_dbfs", line->low);
        put_level(maker, object, channel->calibrated, "high_v", "high_dbfs", line->high);
        put(maker, object, "relative_db", real(line->relative_db));
        put(maker, object, "low_db", real(line->low_db));
        put(maker, object, "high_db", real(line->high_db));
        put(maker, object, "phase_deg", real(line->phase_deg));
        put(maker, object, "flags", flags_array(maker, line->flags));
        append(maker, array, object);
    }
    return array;
}

static json_t *mains_array(struct maker *maker, const struct lds_channel *channel)
{
    json_t *array = json_array();
    for (size_t i = 0; i < channel->mains; i++) {
        const struct lds_line *line = &channel->main[i];
        json_t *object = json_object();
        put(maker, object, "order", json_integer(line->order));
        put(maker, object, "frequency_hz", real(line->frequency_hz));
        put_level(maker, object, channel->calibrated, "level_v", "level_dbfs", line->level);
        put_level(maker, object, channel->calibrated, "low_v", "low_dbfs", line->low);
        put_level(maker, object, channel->calibrated, "high_v", "high_dbfs", line->high);
        put(maker, object, "flags", flags_array(maker, line->flags));
        append(maker, array, object);
    }
    return array;
}

static json_t *spurs_array(struct maker *maker, const struct lds_channel *channel)
{
    json_t *array = json_array();
    for (size_t i = 0; i < channel->spurs; i++) {
        const struct lds_spur *spur = &channel->spur[i];
        json_t *object = json_object();
        put(maker, object, "frequency_hz", real(spur->frequency_hz));
        put_level(maker, object, channel->calibrated, "level_v", "level_dbfs", spur->level);
        put(maker, object, "margin_db", real(spur->margin_db));
        put(maker, object, "origin", text(spur->origin));
        append(maker, array, object);
    }
    return array;
}

static json_t *floor_array(struct maker *maker, const struct lds_channel *channel)
{
    json_t *array = json_array();
    for (size_t i = 0; i < channel->floor_bands; i++) {
        const struct lds_floor_band *band = &channel->floor[i];
        json_t *object = json_object();
        put(maker, object, "frequency_hz", real(band->frequency_hz));
        put(maker, object, "low_hz", real(band->low_hz));
        put(maker, object, "high_hz", real(band->high_hz));
        put_level(maker, object, channel->calibrated, "density_v_rthz", "density_dbfs_hz", band->density);
        put_level(maker, object, channel->calibrated, "mean_v_rthz", "mean_dbfs_hz", band->mean);
        put(maker, object, "dof", real(band->dof));
        append(maker, array, object);
    }
    return array;
}

static json_t *problems_array(struct maker *maker, const struct lds_channel *channel)
{
    json_t *array = json_array();
    for (size_t i = 0; i < channel->problems; i++) {
        const struct lds_problem *problem = &channel->problem[i];
        json_t *object = json_object();
        put(maker, object, "kind", text(problem->kind));
        put(maker, object, "at_s", real(problem->at_s));
        put(maker, object, "samples", plain(problem->samples));
        append(maker, array, object);
    }
    return array;
}

/* A curve is two arrays of one length, named with their units. */
static void put_curve(struct maker *maker, json_t *curves, const char *name, const struct lds_curve *curve,
                      const char *x_name, const char *y_name)
{
    if (curve->points == 0)
        return;
    json_t *object = json_object(), *x = json_array(), *y = json_array();
    for (size_t i = 0; i < curve->points; i++) {
        append(maker, x, real(curve->point[i].x));
        append(maker, y, real(curve->point[i].y));
    }
    put(maker, object, x_name, x);
    put(maker, object, y_name, y);
    put(maker, curves, name, object);
}

static void put_curves(struct maker *maker, json_t *object, const struct lds_channel *channel)
{
    bool volts = channel->calibrated;
    json_t *curves = json_object();
    put_curve(maker, curves, "spectrum", &channel->spectrum, "frequency_hz",
              volts ? "level_v" : "level_full_scale_rms");
    put_curve(maker, curves, "density", &channel->density, "frequency_hz",
              volts ? "density_v_rthz" : "density_full_scale_rms_rthz");
    put_curve(maker, curves, "residual", &channel->residual, "phase_deg", volts ? "residual_v" : "residual_full_scale");
    put_curve(maker, curves, "mains_waveform", &channel->mains_waveform, "time_ms",
              volts ? "waveform_v" : "waveform_full_scale");
    if (json_object_size(curves) > 0)
        put(maker, object, "curves", curves);
    else
        json_decref(curves);
}

static json_t *channel_object(struct maker *maker, const struct lds_channel *channel)
{
    json_t *object = json_object();
    put(maker, object, "channel", json_integer(channel->channel));
    put(maker, object, "calibrated", json_boolean(channel->calibrated));
    put(maker, object, "figures", figures_object(maker, channel->figure, channel->figures));
    put(maker, object, "harmonics", harmonics_array(maker, channel));
    put(maker, object, "mains", mains_array(maker, channel));
    put(maker, object, "spurs", spurs_array(maker, channel));
    put(maker, object, "floor", floor_array(maker, channel));
    put(maker, object, "problems", problems_array(maker, channel));
    put(maker, object, "absent", absent_object(maker, channel->absent, channel->absents));
    put_curves(maker, object, channel);
    return object;
}

static json_t *pair_object(struct maker *maker, const struct lds_pair *pair)
{
    json_t *object = json_object();
    put(maker, object, "channels", json_pack("[i, i]", pair->channels[0], pair->channels[1]));
    put(maker, object, "figures", figures_object(maker, pair->figure, pair->figures));
    put(maker, object, "absent", absent_object(maker, pair->absent, pair->absents));
    return object;
}

static json_t *response_array(struct maker *maker, const double *value, size_t count)
{
    if (!value || count == 0)
        return json_null();
    json_t *array = json_array();
    for (size_t i = 0; i < count; i++)
        append(maker, array, real(value[i]));
    return array;
}

static json_t *bench_object(struct maker *maker, const struct lds_bench *bench)
{
    json_t *object = json_object();
    put(maker, object, "name", text(bench->name));
    put(maker, object, "full_scale_v", real(bench->full_scale_v));
    put(maker, object, "attenuation", real(bench->attenuation));
    put(maker, object, "load_ohm", real(bench->load_ohm));
    put(maker, object, "dc_coupled", json_boolean(bench->dc_coupled));
    put(maker, object, "offset_v", real(bench->offset_v));
    put(maker, object, "low_corner_hz", real(bench->low_corner_hz));
    put(maker, object, "usable_to_hz", plain(bench->usable_to_hz));
    put(maker, object, "clock_ppm", real(bench->clock_ppm));
    put(maker, object, "calibration_percent", real(bench->calibration_percent));
    put(maker, object, "load_percent", real(bench->load_percent));
    put(maker, object, "mains_hz", plain(bench->mains_hz));
    put(maker, object, "repeat_level_db", real(bench->repeat_level_db));
    put(maker, object, "repeat_noise_db", real(bench->repeat_noise_db));
    put(maker, object, "repeat_distortion_db", real(bench->repeat_distortion_db));
    put(maker, object, "repeat_mains_db", real(bench->repeat_mains_db));
    put(maker, object, "response_hz", response_array(maker, bench->response_hz, bench->response_points));
    put(maker, object, "response_db", response_array(maker, bench->response_db, bench->response_points));
    return object;
}

static json_t *capture_object(struct maker *maker, const struct lds_measurement *measurement)
{
    json_t *object = json_object();
    put(maker, object, "file", text(measurement->file));
    put(maker, object, "encoding", measurement->format[0] ? text(measurement->format) : json_null());
    put(maker, object, "date", measurement->date[0] ? text(measurement->date) : json_null());
    put(maker, object, "rate_hz", plain(measurement->rate_hz));
    put(maker, object, "frames", json_integer(measurement->frames));
    put(maker, object, "seconds", real(measurement->seconds));
    put(maker, object, "window_s", real(measurement->window_s));
    put(maker, object, "averages", json_integer(measurement->averages));
    put(maker, object, "bench", bench_object(maker, &measurement->bench));
    json_t *channels = json_array();
    for (size_t i = 0; i < measurement->channels; i++)
        append(maker, channels, channel_object(maker, &measurement->channel[i]));
    put(maker, object, "channels", channels);
    json_t *pairs = json_array();
    for (size_t i = 0; i < measurement->pairs; i++)
        append(maker, pairs, pair_object(maker, &measurement->pair[i]));
    put(maker, object, "pairs", pairs);
    return object;
}

static json_t *root_object(struct maker *maker, const struct lds_measurement *measurement, size_t count)
{
    json_t *root = json_object();
    put(maker, root, "format", json_string("loadside-measurement"));
    put(maker, root, "version", json_integer(1));
    put(maker, root, "program", json_string("loadside " LOADSIDE_VERSION));
    json_t *captures = json_array();
    for (size_t i = 0; i < count; i++)
        append(maker, captures, capture_object(maker, &measurement[i]));
    put(maker, root, "captures", captures);
    return root;
}

enum lds_status lds_report_json(const struct lds_measurement *measurement, size_t count, const char *path,
                                struct lds_error *error)
{
    struct maker maker = {false};
    json_t *root = root_object(&maker, measurement, count);
    if (!root || maker.failed) {
        json_decref(root);
        return lds_fail_memory(error, "the JSON report");
    }
    struct lds_whole_file file;
    enum lds_status status = lds_whole_file_open(&file, path, error);
    if (status == LDS_OK) {
        /* A failed write stays in the stream's error flag, which the commit looks at. */
        (void)json_dumpf(root, file.out, JSON_INDENT(2) | JSON_REAL_PRECISION(DIGITS));
        fputc('\n', file.out);
        status = lds_whole_file_commit(&file, error);
    }
    json_decref(root);
    return status;
}
