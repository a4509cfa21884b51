#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>
#include <jansson.h>
#include <locale.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "loadside/report.h"
#include "loadside/series.h"
#include "record/record.h"
#include "report/sample.h"

static json_t *written(const struct lds_measurement *measurement, size_t count)
{
    char *folder = new_folder(), *path = NULL;
    assert_true(asprintf(&path, "%s/a.json", folder) > 0);
    struct lds_error error = {0};
    assert_int_equal(lds_report_json(measurement, count, path, &error), LDS_OK);
    json_error_t where;
    json_t *root = json_load_file(path, JSON_REJECT_DUPLICATES, &where);
    if (!root)
        fail_msg("%s at line %d", where.text, where.line);
    unlink(path);
    rmdir(folder);
    free(path);
    free(folder);
    return root;
}

static json_t *at(json_t *value, const char *key)
{
    json_t *found = json_object_get(value, key);
    if (!found)
        fail_msg("no \"%s\"", key);
    return found;
}

static json_t *channel_of(json_t *root, size_t capture, size_t channel)
{
    return json_array_get(at(json_array_get(at(root, "captures"), capture), "channels"), channel);
}

static void assert_keys(json_t *object, const char *const *keys)
{
    size_t count = 0;
    for (; keys[count]; count++)
        at(object, keys[count]);
    size_t place = 0;
    const char *key;
    json_t *value;
    json_object_foreach(object, key, value)
    {
        assert_true(place < count);
        assert_string_equal(key, keys[place++]); /* in that order */
    }
    assert_int_equal(place, count);
}

static void assert_number(json_t *value, double expected)
{
    if (!json_is_number(value))
        fail_msg("not a number where %g should be", expected);
    assert_true(fabs(json_number_value(value) - expected) <= 1e-14 * fabs(expected));
}

static void test_contract(void **state)
{
    (void)state;
    struct lds_measurement measurement = sample_measurement("before.wav", true);
    measurement.channel[0].signal = (struct lds_signal){.kind = LDS_SIGNAL_TWO_TONE,
                                                        .delay_s = 0.731,
                                                        .clock_ppm = NAN,
                                                        .inverted = 1,
                                                        .frequency_hz = {19e3, 20e3},
                                                        .words = "two tones"};
    json_t *root = written(&measurement, 1);
    assert_keys(root, (const char *[]){"format", "version", "program", "captures", NULL});
    assert_string_equal(json_string_value(at(root, "format")), "loadside-measurement");
    assert_true(json_is_integer(at(root, "version")));
    assert_int_equal(json_integer_value(at(root, "version")), 1);
    json_t *capture = json_array_get(at(root, "captures"), 0);
    assert_keys(capture, (const char *[]){"file", "encoding", "date", "rate_hz", "frames", "seconds", "window_s",
                                          "averages", "settle_band_v", "bench", "signal", "channels", "pairs", NULL});
    assert_true(json_is_null(at(capture, "signal")));
    assert_true(json_is_integer(at(capture, "frames")));
    assert_int_equal(json_integer_value(at(capture, "rate_hz")), 192000);
    json_t *bench = at(capture, "bench");
    assert_number(at(bench, "full_scale_v"), 20.0);
    assert_number(at(bench, "attenuation"), 1.0);
    assert_number(at(bench, "load_ohm"), 8.0);
    assert_true(json_is_false(at(bench, "dc_coupled")));
    assert_true(json_is_null(at(bench, "usable_to_hz")));
    assert_true(json_is_null(at(bench, "name")));

    json_t *channel = channel_of(root, 0, 0);
    assert_keys(channel, (const char *[]){"channel", "calibrated", "signal", "figures", "harmonics", "mains", "spurs",
                                          "floor", "problems", "absent", "curves", NULL});
    json_t *signal = at(channel, "signal");
    assert_keys(signal,
                (const char *[]){"kind", "stated", "delay_s", "clock_ppm", "inverted", "frequency_hz", "words", NULL});
    assert_string_equal(json_string_value(at(signal, "kind")), "two-tone");
    assert_true(json_is_false(at(signal, "stated")));
    assert_number(at(signal, "delay_s"), 0.731);
    assert_true(json_is_null(at(signal, "clock_ppm")));
    assert_true(json_is_true(at(signal, "inverted")));
    assert_number(json_array_get(at(signal, "frequency_hz"), 1), 20e3);
    assert_string_equal(json_string_value(at(signal, "words")), "two tones");
    json_t *thd = at(at(channel, "figures"), "thd");
    assert_keys(thd, (const char *[]){"value", "unit", "low", "high", "u_a", "u_b", "dof", "percent", "band_hz",
                                      "orders", "flags", NULL});
    assert_number(at(thd, "value"), -90.402);
    /* 100 x 10^(-90.402/20) */
    assert_true(fabs(json_number_value(at(thd, "percent")) - 0.0030193) < 1e-7);
    assert_true(json_is_integer(at(thd, "dof")));
    assert_int_equal(json_integer_value(json_array_get(at(thd, "orders"), 1)), 20);
    assert_int_equal(json_integer_value(json_array_get(at(thd, "band_hz"), 1)), 20000);
    assert_string_equal(json_string_value(json_array_get(at(thd, "flags"), 0)), "chain not measured");
    json_t *noise = at(at(channel, "figures"), "noise.band.20-20k");
    assert_keys(noise, (const char *[]){"value", "unit", "low", "high", "u_a", "u_b", "dof", "band_hz", "removed_hz",
                                        "flags", NULL});
    assert_keys(at(at(channel, "figures"), "level.crest"),
                (const char *[]){"value", "unit", "low", "high", "u_a", "u_b", "dof", "flags", NULL});
    assert_true(json_is_integer(at(at(at(channel, "figures"), "capture.bits"), "value")));
    assert_keys(json_array_get(at(channel, "harmonics"), 1),
                (const char *[]){"order", "frequency_hz", "level_v", "low_v", "high_v", "relative_db", "low_db",
                                 "high_db", "phase_deg", "flags", NULL});
    assert_keys(json_array_get(at(channel, "mains"), 0),
                (const char *[]){"order", "frequency_hz", "level_v", "low_v", "high_v", "flags", NULL});
    assert_keys(json_array_get(at(channel, "spurs"), 0),
                (const char *[]){"frequency_hz", "level_v", "margin_db", "origin", NULL});
    assert_keys(
        json_array_get(at(channel, "floor"), 0),
        (const char *[]){"frequency_hz", "low_hz", "high_hz", "density_v_rthz", "mean_v_rthz", "dof", "flags", NULL});
    json_t *problem = json_array_get(at(channel_of(root, 0, 1), "problems"), 0);
    assert_keys(problem, (const char *[]){"kind", "at_s", "samples", NULL});
    assert_true(json_is_integer(at(problem, "samples")));
    assert_string_equal(json_string_value(at(at(channel, "absent"), "level.dc")),
                        "the bench does not say that the input is DC coupled");
    json_t *pair = json_array_get(at(capture, "pairs"), 0);
    assert_keys(pair, (const char *[]){"channels", "figures", "absent", NULL});
    assert_number(at(at(at(pair, "figures"), "balance"), "value"), -0.0123);
    json_decref(root);
    lds_measurement_free(&measurement);
}

static void test_unknown_is_null(void **state)
{
    (void)state;
    struct lds_measurement measurement = sample_measurement("before.wav", true);
    struct lds_figure *figure = lds_channel_add(&measurement.channel[0], "noise.kurtosis");
    figure->value = INFINITY;
    figure->low = -INFINITY;
    figure->dof = INFINITY;
    json_t *root = written(&measurement, 1);
    json_t *figures = at(channel_of(root, 0, 0), "figures");
    const char *names[] = {"value", "low", "high", "u_a", "u_b", "dof"};
    for (size_t i = 0; i < 6; i++)
        assert_true(json_is_null(at(at(figures, "noise.kurtosis"), names[i])));
    json_t *even = at(figures, "mains.even");
    assert_true(json_is_null(at(even, "value")) && json_is_null(at(even, "low")));
    assert_number(at(even, "high"), 2.31e-6);
    json_t *last = json_array_get(at(channel_of(root, 0, 0), "harmonics"), 19);
    assert_true(json_is_null(at(last, "level_v")) && json_is_null(at(last, "relative_db")));
    assert_true(json_is_number(at(last, "high_db")));
    json_decref(root);
    lds_measurement_free(&measurement);
}

static void test_uncalibrated(void **state)
{
    (void)state;
    struct lds_measurement measurement = sample_measurement("before.wav", false);
    const struct lds_series *harmonics = lds_channel_series(&measurement.channel[0], "harmonics");
    const struct lds_series *mains = lds_channel_series(&measurement.channel[0], "mains");
    json_t *root = written(&measurement, 1);
    json_t *channel = channel_of(root, 0, 0);
    assert_string_equal(json_string_value(at(at(at(channel, "figures"), "level.rms"), "unit")), "dBFS");
    json_t *harmonic = json_array_get(at(channel, "harmonics"), 1);
    assert_true(json_is_null(at(harmonic, "level_v")));
    assert_number(at(harmonic, "level_dbfs"), 20.0 * log10(lds_series_value(harmonics, 1, LDS_LINE_LEVEL) * M_SQRT2));
    json_t *main = json_array_get(at(channel, "mains"), 0);
    assert_true(json_is_null(at(main, "low_v")) && json_is_null(at(main, "high_v")));
    assert_number(at(main, "low_dbfs"), 20.0 * log10(lds_series_cell(mains, 0, LDS_LINE_LEVEL).low * M_SQRT2));
    at(main, "high_dbfs");
    json_t *floor = json_array_get(at(channel, "floor"), 0);
    assert_true(json_is_null(at(floor, "density_v_rthz")));
    at(floor, "density_dbfs_hz");
    at(json_array_get(at(channel, "spurs"), 0), "level_dbfs");
    assert_true(json_is_null(at(at(json_array_get(at(root, "captures"), 0), "bench"), "full_scale_v")));
    json_decref(root);
    lds_measurement_free(&measurement);
}

/* Sample figures are added out of order; the table of keys sets the order. */
static void test_table_order(void **state)
{
    (void)state;
    struct lds_measurement measurement = sample_measurement("before.wav", true);
    json_t *root = written(&measurement, 1);
    size_t rows, last = 0;
    const struct lds_key *keys = lds_keys(&rows);
    const char *key;
    json_t *value;
    json_object_foreach(at(channel_of(root, 0, 0), "figures"), key, value)
    {
        size_t place = (size_t)(lds_key_find(key) - keys);
        assert_true(place >= last);
        last = place;
    }
    json_decref(root);
    lds_measurement_free(&measurement);
}

static void test_nasty_names(void **state)
{
    (void)state;
    for (size_t i = 0; i < nasty_names_count; i++) {
        struct lds_measurement measurement = sample_measurement(nasty_names[i], true);
        json_t *root = written(&measurement, 1);
        const char *name = json_string_value(at(json_array_get(at(root, "captures"), 0), "file"));
        if (strstr(nasty_names[i], "UTF-8"))
            assert_string_equal(name, "not \xEF\xBF\xBD\xEF\xBF\xBD UTF-8 \xEF\xBF\xBD.wav");
        else
            assert_string_equal(name, nasty_names[i]);
        json_decref(root);
        lds_measurement_free(&measurement);
    }
}

static void test_several_captures_and_locale(void **state)
{
    (void)state;
    struct lds_measurement both[2] = {sample_measurement("a.wav", true), sample_measurement("b.wav", false)};
    char *folder = new_folder(), *path = NULL;
    assert_true(asprintf(&path, "%s/a.json", folder) > 0);
    assert_int_equal(lds_report_json(both, 2, path, NULL), LDS_OK);
    char *first = read_all(path);
    setlocale(LC_ALL, "de_DE.UTF-8"); /* a comma for a point, where it is installed */
    assert_int_equal(lds_report_json(both, 2, path, NULL), LDS_OK);
    setlocale(LC_ALL, "C");
    char *second = read_all(path);
    assert_string_equal(first, second);
    assert_null(strstr(first, "nan"));
    assert_null(strstr(first, "inf"));
    assert_non_null(strstr(first, "\"value\": -90.402,")); /* as it was written, without a seventeenth digit */
    free(first);
    free(second);
    json_t *root = written(both, 2);
    assert_int_equal(json_array_size(at(root, "captures")), 2);
    json_decref(root);
    root = written(NULL, 0);
    assert_int_equal(json_array_size(at(root, "captures")), 0);
    json_decref(root);
    unlink(path);
    rmdir(folder);
    free(path);
    free(folder);
    lds_measurement_free(&both[0]);
    lds_measurement_free(&both[1]);
}

static void test_full_disk(void **state)
{
    (void)state;
    struct lds_measurement measurement = sample_measurement("before.wav", true);
    struct lds_error error = {0};
    assert_int_equal(lds_report_json(&measurement, 1, "/dev/full", &error), LDS_IO);
    assert_non_null(strstr(error.message, "No space left"));
    lds_measurement_free(&measurement);
}

/* The file is safe to show on a terminal, and reads back as the same characters. */
static void test_unsafe_characters(void **state)
{
    (void)state;
    static const char name[] = "a\xC2\x85\xC2\x9B"
                               "31m\x7F\x1B\xE2\x80\xAE\xE2\x81\xA6 \xC3\xB6\xE2\x82\xAC\xF0\x9F\x94\x8A.wav";
    char *folder = new_folder(), *path = NULL;
    struct lds_measurement measurement = sample_measurement(name, true);
    assert_true(asprintf(&path, "%s/a.json", folder) > 0);
    assert_int_equal(lds_report_json(&measurement, 1, path, NULL), LDS_OK);
    char *text = read_all(path);
    assert_non_null(
        strstr(text, "\"a\\u0085\\u009b31m\\u007f\\u001B\\u202e\\u2066 \xC3\xB6\xE2\x82\xAC\xF0\x9F\x94\x8A.wav\""));
    json_t *root = json_loads(text, 0, NULL);
    assert_string_equal(
        json_string_value(json_object_get(json_array_get(json_object_get(root, "captures"), 0), "file")), name);
    json_decref(root);
    free(text);
    unlink(path);
    rmdir(folder);
    free(path);
    free(folder);
    lds_measurement_free(&measurement);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_unsafe_characters),
        cmocka_unit_test(test_contract),
        cmocka_unit_test(test_unknown_is_null),
        cmocka_unit_test(test_uncalibrated),
        cmocka_unit_test(test_table_order),
        cmocka_unit_test(test_nasty_names),
        cmocka_unit_test(test_several_captures_and_locale),
        cmocka_unit_test(test_full_disk),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
