/* What is saved as JSON reads back unchanged, and other files are refused with the place of the fault. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>
#include <jansson.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "loadside/report.h"
#include "loadside/saved.h"
#include "loadside/series.h"
#include "report/sample.h"

static char *place(const char *folder, const char *name)
{
    char *path = NULL;
    assert_true(asprintf(&path, "%s/%s", folder, name) > 0);
    return path;
}

static void put_file(const char *path, const char *text)
{
    FILE *file = fopen(path, "wb");
    assert_non_null(file);
    assert_int_equal(fwrite(text, 1, strlen(text), file), strlen(text));
    assert_int_equal(fclose(file), 0);
}

/* Every member of one JSON text is in the other with the same value. Levels in dBFS go through their linear value,
 * which leaves the last of 15 digits uncertain. */
static void check_same(const json_t *one, const json_t *other, const char *name)
{
    if (json_typeof(one) != json_typeof(other) && !(json_is_number(one) && json_is_number(other)))
        fail_msg("%s: kind %d became %d", name, (int)json_typeof(one), (int)json_typeof(other));
    if (json_is_number(one)) {
        double was = json_number_value(one), is = json_number_value(other);
        if (fabs(is - was) > 1e-12 * fabs(was))
            fail_msg("%s: %.17g became %.17g", name, was, is);
    } else if (json_is_string(one)) {
        assert_string_equal(json_string_value(one), json_string_value(other));
    }
    assert_int_equal(json_array_size(one), json_array_size(other));
    assert_int_equal(json_object_size(one), json_object_size(other));
    for (size_t i = 0; i < json_array_size(one); i++)
        check_same(json_array_get(one, i), json_array_get(other, i), name);
    const char *key;
    json_t *value;
    json_object_foreach((json_t *)(uintptr_t)one, key, value)
    {
        if (!json_object_get(other, key))
            fail_msg("%s of %s is gone", key, name);
        check_same(value, json_object_get(other, key), key);
    }
}

static json_t *load(const char *path)
{
    json_error_t fault;
    json_t *root = json_load_file(path, 0, &fault);
    if (!root)
        fail_msg("%s: %s", path, fault.text);
    return root;
}

/* A bench that states everything possible. */
static void fill_bench(struct lds_bench *bench)
{
    bench->attenuation = 10.0;
    bench->dc_coupled = true;
    bench->offset_v = 0.002;
    bench->low_corner_hz = 1.5;
    bench->usable_to_hz = 86400.0;
    bench->clock_ppm = 50.0;
    bench->calibration_percent = 1.0;
    bench->load_percent = 0.5;
    bench->mains_hz = 50.0;
    bench->repeat_level_db = 0.02;
    bench->repeat_noise_db = 0.11;
    bench->repeat_distortion_db = 0.22;
    bench->repeat_mains_db = 1.3;
    bench->name = strdup("hall rack");
    bench->response_points = 2;
    bench->response_hz = calloc(2, sizeof *bench->response_hz);
    bench->response_db = calloc(2, sizeof *bench->response_db);
    bench->response_hz[0] = 10.0;
    bench->response_db[0] = -0.31;
    bench->response_hz[1] = 80000.0;
    bench->response_db[1] = -1.4;
}

static void let_it_clip(struct lds_measurement *measurement)
{
    for (size_t i = 0; i < measurement->channels; i++)
        if (measurement->channel[i].problems)
            measurement->channel[i].problem[0] =
                (struct lds_problem){.kind = LDS_PROBLEM_AMPLIFIER_CLIPS, .samples = NAN, .ceiling = 21.25};
}

static void test_reads_back(void **state)
{
    (void)state;
    char *folder = new_folder(), *first = place(folder, "a.json"), *second = place(folder, "b.json");
    struct lds_measurement both[2] = {sample_measurement("a.wav", true), sample_measurement("b.wav", false)}, *again;
    size_t count;
    struct lds_error error;
    fill_bench(&both[0].bench);
    let_it_clip(&both[0]);
    let_it_clip(&both[1]);
    assert_int_equal(lds_report_json(both, 2, first, &error), LDS_OK);
    assert_true(lds_saved_is(first));
    if (lds_saved_read(first, &again, &count, &error) != LDS_OK)
        fail_msg("%s", error.message);
    assert_int_equal(count, 2);
    assert_int_equal(lds_report_json(again, 2, second, &error), LDS_OK);
    json_t *one = load(first), *other = load(second);
    check_same(one, other, "the whole");
    json_decref(one);
    json_decref(other);
    for (size_t i = 0; i < 2; i++) {
        lds_measurement_free(&both[i]);
        lds_measurement_free(&again[i]);
    }
    free(again);
    unlink(first);
    unlink(second);
    rmdir(folder);
    free(first);
    free(second);
    free(folder);
}

/* What JSON has no number for, and what has another unit there. */
static void test_unknown_and_linear(void **state)
{
    (void)state;
    char *folder = new_folder(), *path = place(folder, "a.json");
    struct lds_measurement was = sample_measurement("a.wav", false), *is;
    size_t count;
    was.channel[0].figure[3].dof = INFINITY;
    assert_int_equal(lds_report_json(&was, 1, path, NULL), LDS_OK);
    assert_int_equal(lds_saved_read(path, &is, &count, NULL), LDS_OK);
    const struct lds_channel *channel = &is->channel[0];
    assert_true(is->bench.usable_to_hz == INFINITY);
    assert_true(isnan(is->bench.mains_hz) && isnan(is->bench.full_scale_v) && isnan(is->bench.repeat_noise_db));
    assert_false(channel->calibrated);
    const struct lds_figure *hidden = lds_channel_figure(channel, "mains.even");
    assert_true(isnan(hidden->value) && isnan(hidden->low) && isnan(hidden->band_hz[0]) && isnan(hidden->removed_hz));
    assert_int_equal(hidden->flags, LDS_FLAG_BELOW_FLOOR);
    assert_int_equal(hidden->orders[1], 0);
    const struct lds_figure *known = lds_channel_figure(channel, was.channel[0].figure[3].key);
    assert_true(isinf(known->dof));
    assert_string_equal(lds_channel_absent(channel, "tone.power"), "the bench does not say the load");
    for (size_t k = 0; k < was.channel[0].series_count; k++) {
        const struct lds_series *one = &was.channel[0].series[k], *other = lds_channel_series(channel, one->kind->key);
        assert_int_equal(one->rows, other->rows);
        for (size_t i = 0; i < one->rows * one->width; i++) {
            assert_int_equal(isnan(one->number[i]), isnan(other->number[i]));
            if (!isnan(one->number[i]))
                assert_true(fabs(other->number[i] - one->number[i]) <= 1e-12 * fabs(one->number[i]));
        }
        for (size_t i = 0; one->flag && i < one->rows; i++)
            assert_int_equal(one->flag[i], other->flag[i]);
        for (size_t i = 0; one->text && i < one->rows; i++)
            assert_string_equal(one->text[i], other->text[i]);
    }
    lds_measurement_free(&was);
    lds_measurement_free(is);
    free(is);
    unlink(path);
    rmdir(folder);
    free(path);
    free(folder);
}

static const struct {
    const char *text;
    enum lds_status status;
    const char *says; /* part of the message */
} bad[] = {
    {"", LDS_BAD_INPUT, "not JSON"},
    {"{\"format\": ", LDS_BAD_INPUT, "not JSON"},
    {"{\"a\": 1, \"a\": 1}", LDS_BAD_INPUT, "not JSON"},
    {"[1, 2]", LDS_BAD_INPUT, "without a format"},
    {"{\"version\": 1}", LDS_BAD_INPUT, "without a format"},
    {"{\"format\": \"another-program\", \"version\": 1}", LDS_BAD_INPUT, "of format \"another-program\""},
    {"{\"format\": \"loadside-comparison\", \"version\": 1}", LDS_BAD_INPUT, "\"loadside-measurement\" expected"},
    {"{\"format\": \"loadside-measurement\", \"version\": 2}", LDS_BAD_INPUT, "version 2"},
    {"{\"format\": \"loadside-measurement\", \"version\": \"1\"}", LDS_BAD_INPUT, "version \"1\""},
    {"{\"format\": \"loadside-measurement\"}", LDS_BAD_INPUT, "version unknown"},
    {"{\"format\": \"loadside-measurement\", \"version\": 1}", LDS_BAD_INPUT, "captures is not there"},
};

static void test_bad(void **state)
{
    (void)state;
    char *folder = new_folder(), *path = place(folder, "a.json");
    struct lds_measurement *measurement;
    size_t count;
    struct lds_error error;
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        put_file(path, bad[i].text);
        enum lds_status status = lds_saved_read(path, &measurement, &count, &error);
        if (status != bad[i].status || !strstr(error.message, bad[i].says))
            fail_msg("%s: status %d, \"%s\"; \"%s\" expected", bad[i].text, status, error.message, bad[i].says);
        assert_null(measurement);
        assert_int_equal(count, 0);
        assert_null(strchr(error.message, '\n'));
    }
    unlink(path);
    assert_int_equal(lds_saved_read(path, &measurement, &count, &error), LDS_IO);
    assert_int_equal(lds_saved_read(folder, &measurement, &count, &error), LDS_IO);
    rmdir(folder);
    free(path);
    free(folder);
}

/* Where to go in a saved result: members, and elements by number. */
static json_t *go(json_t *from, const char *way)
{
    char step[64];
    for (int used; from && sscanf(way, "%63[^/]%n", step, &used) == 1; way += used + (way[used] == '/'))
        from = json_is_array(from) ? json_array_get(from, strtoul(step, NULL, 10)) : json_object_get(from, step);
    return from;
}

/* One member of a saved result replaced by another value. */
static const struct {
    const char *way, *member;
    const char *value; /* NULL: the member is removed */
    const char *says;  /* part of the message, NULL: accepted */
} changed[] = {
    {"", "captures", "[]", "captures is not an array with at least one capture"},
    {"", "captures", "{}", "captures is not an array"},
    {"", "captures", "[3]", "captures[0] is not an object"},
    {"captures/0", "channels", "[]", "captures[0].channels is not an array of 1 to 64"},
    {"captures/0", "frames", "-1", "captures[0].frames is not a whole number"},
    {"captures/0", "rate_hz", "\"fast\"", "captures[0].rate_hz is not a number or null"},
    {"captures/0", "rate_hz", "0", "captures[0].rate_hz is not a number from 8000 to 1e+07"},
    {"captures/0", "rate_hz", "null", "captures[0].rate_hz is not a number"},
    {"captures/0", "seconds", "1e9", "captures[0].seconds is not frames over rate_hz"},
    {"captures/0", "file", "3", "captures[0].file is not text"},
    {"captures/0/bench", "dc_coupled", "1", "captures[0].bench.dc_coupled is not true or false"},
    {"captures/0/bench", "load_ohm", "0", "captures[0].bench.load_ohm is not above 0"},
    {"captures/0/bench", "attenuation", "0.5", "captures[0].bench.attenuation is not a number from 1 to"},
    {"captures/0/bench", "response_hz", "[1, 2]", "captures[0].bench.response_db is not as long"},
    {"captures/0/channels/1", "channel", "1", "captures[0].channels[1].channel is not another"},
    {"captures/0/channels/0", "channel", "65", "captures[0].channels[0].channel is not"},
    {"captures/0/channels/0", "channel", NULL, "captures[0].channels[0].channel is not there"},
    {"captures/0/channels/0", "calibrated", "null", "captures[0].channels[0].calibrated is not true or false"},
    {"captures/0/channels/0/figures/thd", "value", "\"low\"", "channels[0].figures.thd.value is not a number"},
    {"captures/0/channels/0/figures/thd", "value", "-70", "figures.thd.value is not between its limits"},
    {"captures/0/channels/0/figures/thd", "u_a", "-1", "figures.thd.u_a is not a number from 0"},
    {"captures/0/channels/0/figures/thd", "unit", "\"V\"", "figures.thd.unit is not that of its key"},
    {"captures/0/channels/0/figures/thd", "orders", "[2]", "figures.thd.orders is not two numbers"},
    {"captures/0/channels/0/figures/thd", "orders", NULL, NULL},
    {"captures/0/channels/0/figures/thd", "flags", "[2]", "figures.thd.flags is not an array of words"},
    {"captures/0/channels/0/figures/thd", "new", "1", NULL},
    {"captures/0/channels/0/figures", "new.key", "3", "figures.new.key is not an object"},
    {"captures/0/channels/0/harmonics/0", "order", "1e9", "harmonics[0].order is not a whole number"},
    {"captures/0/channels/0/mains", "", "7", "mains[0] is not an object"},
    {"captures/0/channels/0/floor/0", "low_hz", NULL, "floor[0].low_hz is not there"},
    {"captures/0/channels/0/floor/0", "low_hz", "0", "floor[0].high_hz is not above low_hz, and that above 0"},
    {"captures/0/channels/0/floor/3", "low_hz", "1", "floor[3].low_hz is not at or above the end of the band before"},
    {"captures/0/channels/0/curves/density", "density_v_rthz", "[]", "curves.density.density_v_rthz is not as long as"},
    {"captures/0/channels/0", "curves", NULL, NULL},
    {"captures/0/channels/0/curves/density/frequency_hz", "", "1e6", "curves.density.frequency_hz is not rising"},
    {"captures/0/pairs/0", "channels", "[1, 3]", "pairs[0].channels is not the numbers of two of the channels"},
    {"captures/0", "new", "{}", NULL}, /* from a later version 1 */
};

static void change(json_t *root, size_t i)
{
    json_t *at = go(root, changed[i].way), *value = NULL;
    if (changed[i].value)
        assert_non_null(value = json_loads(changed[i].value, JSON_DECODE_ANY, NULL));
    if (json_is_array(at))
        assert_int_equal(json_array_set_new(at, 0, value), 0);
    else if (value)
        assert_int_equal(json_object_set_new(at, changed[i].member, value), 0);
    else
        assert_int_equal(json_object_del(at, changed[i].member), 0);
}

static void test_changed(void **state)
{
    (void)state;
    char *folder = new_folder(), *path = place(folder, "a.json");
    struct lds_measurement was = sample_measurement("a.wav", true), *is;
    size_t count;
    for (int i = 0; i < 2; i++)
        for (size_t k = 0; k < 3; k++)
            sample_cut(&was.channel[i], (const char *[]){"spectrum", "density", "residual"}[k], 4);
    for (size_t i = 0; i < sizeof changed / sizeof changed[0]; i++) {
        struct lds_error error = {0};
        assert_int_equal(lds_report_json(&was, 1, path, NULL), LDS_OK);
        json_t *root = load(path);
        change(root, i);
        assert_int_equal(json_dump_file(root, path, 0), 0);
        json_decref(root);
        enum lds_status status = lds_saved_read(path, &is, &count, &error);
        if (status != (changed[i].says ? LDS_BAD_INPUT : LDS_OK) ||
            (changed[i].says && !strstr(error.message, changed[i].says)))
            fail_msg("%s of %s: status %d, \"%s\"; \"%s\" expected", changed[i].member, changed[i].way, status,
                     error.message, changed[i].says ? changed[i].says : "accepted");
        for (size_t k = 0; k < count; k++)
            lds_measurement_free(&is[k]);
        free(is);
    }
    lds_measurement_free(&was);
    unlink(path);
    rmdir(folder);
    free(path);
    free(folder);
}

static void test_is(void **state)
{
    (void)state;
    static const struct {
        const char *text;
        bool is;
    } files[] = {{"{\"a\": 1}", true}, {" \r\n\t{ \n\"", true}, {"{}", true},  {"", false},
                 {"RIFF", false},      {"[1]", false},          {"{1", false}, {"\xEF\xBB\xBF{\"", false}};
    char *folder = new_folder(), *path = place(folder, "a.json");
    for (size_t i = 0; i < sizeof files / sizeof files[0]; i++) {
        put_file(path, files[i].text);
        if (lds_saved_is(path) != files[i].is)
            fail_msg("\"%s\" is taken for %s", files[i].text, files[i].is ? "a capture" : "a saved result");
    }
    unlink(path);
    assert_false(lds_saved_is(path));
    assert_false(lds_saved_is(folder));
    rmdir(folder);
    free(path);
    free(folder);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_reads_back), cmocka_unit_test(test_unknown_and_linear),
        cmocka_unit_test(test_bad),        cmocka_unit_test(test_changed),
        cmocka_unit_test(test_is),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
