/* A series over an axis, of a kind that nothing measures yet: its row in the table is enough for every output, for
 * reading it back and for comparing it. */
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

#include "loadside/loadside.h"
#include "record/record.h"
#include "record/series.h"
#include "report/sample.h"
#include "simulate/random.h"

static const char KEY[] = "response.gain";
static const double HALF = 0.02; /* of the 95 % intervals, dB */
static const uint64_t SEED = 20261129;

/* Linear in the logarithm of the frequency, so that interpolation is exact; above from_hz it falls by fall_db more per
 * decade. */
static double gain_db(double hz, double from_hz, double fall_db)
{
    return 0.1 * log10(hz / 1e3) - (hz > from_hz ? fall_db * log10(hz / from_hz) : 0.0);
}

static void fill_gain(struct lds_series *series, size_t points, double from_hz, double fall_db)
{
    assert_non_null(series);
    for (size_t i = 0; i < points; i++) {
        double hz = 20.0 * pow(1000.0, (double)i / (double)(points - 1)), db = gain_db(hz, from_hz, fall_db);
        assert_true(lds_series_add_row(series, (const double[]){hz, db}));
        lds_series_set_limits(series, i, LDS_CURVE_Y, db - HALF, db + HALF);
    }
}

static void add_level(struct lds_channel *channel, double level_v)
{
    struct lds_figure *level = lds_channel_add(channel, "level.rms");
    level->value = level_v;
    level->low = 0.999 * level_v;
    level->high = 1.001 * level_v;
    level->u_a = 0.0005 * level_v;
    level->dof = INFINITY;
}

static struct lds_measurement capture(const char *file, size_t points, double from_hz, double fall_db)
{
    struct lds_measurement m = {.file = strdup(file),
                                .rate_hz = 48e3,
                                .frames = 480000,
                                .seconds = 10.0,
                                .channels = 1,
                                .channel = calloc(1, sizeof *m.channel)};
    lds_bench_init(&m.bench);
    m.bench.full_scale_v = 20.0;
    m.channel[0].channel = 1;
    m.channel[0].calibrated = true;
    m.channel[0].signal = m.signal =
        (struct lds_signal){.delay_s = NAN, .clock_ppm = NAN, .inverted = -1, .frequency_hz = {NAN, NAN}};
    add_level(&m.channel[0], 1.0);
    if (points > 0)
        fill_gain(lds_channel_add_series(&m.channel[0], KEY), points, from_hz, fall_db);
    return m;
}

/* A capture of two channels; only their pair has the series. */
static struct lds_measurement capture_of_pair(const char *file, size_t points, double from_hz, double fall_db)
{
    struct lds_measurement m = capture(file, 0, 0.0, 0.0);
    m.channels = 2;
    m.channel = realloc(m.channel, 2 * sizeof *m.channel);
    m.channel[1] = (struct lds_channel){.channel = 2, .calibrated = true, .signal = m.signal};
    add_level(&m.channel[1], 2.0);
    m.pairs = 1;
    m.pair = calloc(1, sizeof *m.pair);
    m.pair[0].channels[0] = 1;
    m.pair[0].channels[1] = 2;
    if (points > 0)
        fill_gain(lds_pair_add_series(&m.pair[0], KEY), points, from_hz, fall_db);
    return m;
}

static char *place(const char *folder, const char *name)
{
    char *path = NULL;
    assert_true(asprintf(&path, "%s/%s", folder, name) > 0);
    return path;
}

static json_t *load(const char *path)
{
    json_t *root = json_load_file(path, 0, NULL);
    assert_non_null(root);
    return root;
}

static json_t *at(json_t *object, const char *key)
{
    json_t *value = json_object_get(object, key);
    if (!value)
        fail_msg("no %s", key);
    return value;
}

static json_t *first(json_t *object, const char *key)
{
    return json_array_get(at(object, key), 0);
}

static void check_number(const json_t *value, double expected)
{
    if (!json_is_number(value) || !(fabs(json_number_value(value) - expected) <= 1e-12 * fmax(1.0, fabs(expected))))
        fail_msg("%.17g instead of %.17g", json_number_value(value), expected);
}

static void remove_all(char *folder, char **path, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        unlink(path[i]);
        free(path[i]);
    }
    rmdir(folder);
    free(folder);
}

/* As documented in docs/json.md, and the same after it was read back and written again. */
static void test_json(void **state)
{
    (void)state;
    char *folder = new_folder(), *path[2] = {place(folder, "a.json"), place(folder, "b.json")};
    struct lds_measurement m = capture("a.wav", 31, 1e3, 1.0), *again;
    struct lds_series *series = lds_channel_own_series(&m.channel[0], KEY);
    struct lds_error error;
    size_t count;
    lds_series_set(series, 30, LDS_CURVE_Y, NAN); /* below the floor: only an upper limit */
    lds_series_set_limits(series, 30, LDS_CURVE_Y, NAN, -1.5);
    series->flags = LDS_FLAG_UNSTEADY;
    m.pairs = 1;
    m.pair = calloc(1, sizeof *m.pair);
    m.pair[0].channels[0] = 1;
    m.pair[0].channels[1] = 2;
    m.channels = 2; /* a second channel for the pair, without the series */
    m.channel = realloc(m.channel, 2 * sizeof *m.channel);
    m.channel[1] = (struct lds_channel){.channel = 2, .calibrated = true, .signal = m.signal};
    struct lds_series *of_pair = lds_pair_add_series(&m.pair[0], KEY);
    assert_true(lds_series_add_row(of_pair, (const double[]){50.0, 0.5}));
    assert_int_equal(lds_report_json(&m, 1, path[0], &error), LDS_OK);
    json_t *root = load(path[0]), *channel = first(first(root, "captures"), "channels");
    json_t *one = at(at(channel, "series"), KEY), *row = json_array_get(at(one, "rows"), 10);
    assert_string_equal(json_string_value(at(one, "x")), "frequency");
    assert_string_equal(json_string_value(at(one, "x_unit")), "Hz");
    assert_string_equal(json_string_value(at(one, "unit")), "dB");
    assert_int_equal(json_array_size(at(one, "rows")), 31);
    assert_int_equal(json_array_size(row), 4);
    check_number(json_array_get(row, 0), 200.0);
    check_number(json_array_get(row, 1), gain_db(200.0, 1e3, 1.0));
    check_number(json_array_get(row, 2), gain_db(200.0, 1e3, 1.0) - HALF);
    check_number(json_array_get(row, 3), gain_db(200.0, 1e3, 1.0) + HALF);
    row = json_array_get(at(one, "rows"), 30);
    assert_true(json_is_null(json_array_get(row, 1)) && json_is_null(json_array_get(row, 2)));
    check_number(json_array_get(row, 3), -1.5);
    assert_string_equal(json_string_value(json_array_get(at(one, "flags"), 0)), "unsteady");
    assert_null(json_object_get(json_array_get(at(first(root, "captures"), "channels"), 1), "series"));
    if (lds_saved_read(path[0], &again, &count, &error) != LDS_OK)
        fail_msg("%s", error.message);
    assert_int_equal(lds_channel_series(&again->channel[0], KEY)->rows, 31);
    assert_int_equal(lds_pair_series(&again->pair[0], KEY)->rows, 1);
    assert_int_equal(lds_report_json(again, 1, path[1], &error), LDS_OK);
    json_t *other = load(path[1]);
    assert_true(json_equal(root, other));
    json_decref(root);
    json_decref(other);
    lds_measurement_free(again);
    free(again);
    lds_measurement_free(&m);
    remove_all(folder, path, 2);
}

static void test_damaged(void **state)
{
    (void)state;
    static const struct {
        const char *member, *instead, *says;
    } damage[] = {
        {"x", "\"power\"", "series.response.gain.x is not that of its key"},
        {"unit", "\"V\"", "series.response.gain.unit is not that of its key"},
        {"rows", "7", "series.response.gain.rows is not an array"},
        {"rows", "[[20, 0, -1, 1], [20, 0, -1, 1]]", "rows[1] is not rising"},
        {"rows", "[[20, 0, -1]]", "rows[0] is not an array of x, value, low and high"},
        {"rows", "[[null, 0, -1, 1]]", "rows[0] is not an array of numbers"},
        {"rows", "[[20, 0, 1, 2]]", "rows[0] is not between its limits"},
        {"rows", "[[20, 5000, null, null]]", "rows[0] is not within 1000"},
        {"flags", "{}", "series.response.gain.flags is not an array"},
        {"rows", "[]", NULL},
        {"rows", "[[20, null, null, -1]]", NULL},
    };
    char *folder = new_folder(), *path = place(folder, "a.json");
    struct lds_measurement m = capture("a.wav", 5, 1e3, 1.0), *read;
    struct lds_error error;
    size_t count;
    for (size_t i = 0; i < sizeof damage / sizeof *damage; i++) {
        assert_int_equal(lds_report_json(&m, 1, path, &error), LDS_OK);
        json_t *root = load(path);
        json_t *one = at(at(first(first(root, "captures"), "channels"), "series"), KEY);
        json_object_set_new(one, damage[i].member, json_loads(damage[i].instead, JSON_DECODE_ANY, NULL));
        assert_int_equal(json_dump_file(root, path, 0), 0);
        json_decref(root);
        enum lds_status status = lds_saved_read(path, &read, &count, &error);
        if (damage[i].says ? !strstr(error.message, damage[i].says) || status != LDS_BAD_INPUT : status != LDS_OK)
            fail_msg("%s %s: %s", damage[i].member, damage[i].instead, error.message);
        if (status != LDS_OK)
            continue;
        lds_measurement_free(read);
        free(read);
    }
    lds_measurement_free(&m);
    remove_all(folder, &path, 1);
}

static void check_has(const char *text, const char *part)
{
    if (!strstr(text, part))
        fail_msg("no \"%s\" in:\n%s", part, text ? text : "nothing");
}

static void test_csv_and_text(void **state)
{
    (void)state;
    char *folder = new_folder(), *path = place(folder, "a.csv"), *text = NULL, line[160];
    struct lds_measurement m = capture("a.wav", 61, 1e3, 1.0);
    struct lds_error error;
    size_t size;
    assert_true(lds_channel_add_absent(&m.channel[0], KEY, "the signal breaks off"));
    assert_int_equal(lds_report_csv(&m, 1, path, &error), LDS_OK);
    char *csv = read_all(path);
    check_has(csv, "\r\na.wav,1,response.gain.21.frequency,\"gain re 1 kHz, frequency\",200,Hz,,,");
    snprintf(line, sizeof line, "response.gain.21.gain,\"gain re 1 kHz, gain\",%.15g,dB,%.15g,%.15g,",
             gain_db(200.0, 1e3, 1.0), gain_db(200.0, 1e3, 1.0) - HALF, gain_db(200.0, 1e3, 1.0) + HALF);
    check_has(csv, line);
    FILE *out = open_memstream(&text, &size);
    assert_int_equal(lds_report_text(&m, 1, out, &error), LDS_OK);
    fclose(out);
    check_has(text, "\n  gain re 1 kHz over frequency\n");
    check_has(text, "\n        20.0 Hz      -0.170   ±0.020        dB\n");
    check_has(text, "\n     20.000 kHz      -1.171   ±0.020        dB\n");
    check_has(text, "\n  45 points between them stand in the JSON and CSV reports\n");
    check_has(text, "No figure for gain re 1 kHz over frequency: the signal breaks off");
    free(text);
    free(csv);
    lds_measurement_free(&m);
    remove_all(folder, &path, 1);
}

static void compare(const struct lds_measurement *before, const struct lds_measurement *after, struct lds_comparison *c)
{
    struct lds_compare_options options;
    struct lds_error error;
    lds_compare_options_init(&options);
    if (lds_compare((struct lds_side){before, 1}, (struct lds_side){after, 1}, &options, c, &error) != LDS_OK)
        fail_msg("%s", error.message);
}

/* Captures with different points are interpolated. Both are straight lines over the logarithm, so the change is
 * known. */
static void test_compared(void **state)
{
    (void)state;
    struct lds_measurement b = capture("b.wav", 73, 1e3, 0.0), a = capture("a.wav", 31, 2e3, 3.0);
    struct lds_comparison c;
    compare(&b, &a, &c);
    const struct lds_axis_change *axis = lds_compared_axis(&c.channel[0], KEY);
    assert_int_equal(axis->points, 31); /* of the coarser axis */
    assert_int_equal(axis->regions, 1);
    /* the captures' own intervals, and the default scatter of levels from one capture to the next */
    double half = 1.959963984540054 * hypot(M_SQRT2 * HALF / 1.959963984540054, M_SQRT2 * 0.03);
    for (size_t i = 0; i < axis->points; i++) {
        const struct lds_axis_span *p = &axis->point[i];
        double truth = gain_db(p->x, 2e3, 3.0) - gain_db(p->x, 2e3, 0.0);
        if (!(fabs(p->change - truth) < 1e-9) || !(fabs(p->high - p->low - 2.0 * half) < 0.01 * half))
            fail_msg("at %g Hz: %g (%g to %g), put in %g", p->x, p->change, p->low, p->high, truth);
        assert_int_equal(p->called, p->x > 2400.0);
    }
    const struct lds_axis_span *r = &axis->region[0];
    assert_true(r->from > 2400.0 && r->from < 2600.0 && fabs(r->to - 20e3) < 1e-6 && r->word == LDS_LOWER);
    assert_true(r->low < r->change && r->change < r->high && r->high < -0.2 && r->p_adjusted < 1e-6);
    assert_false(c.worse); /* a response has no worse direction */
    const struct lds_answer_group group = {.comparison = &c};
    struct lds_answer answer;
    struct lds_error error;
    assert_int_equal(lds_answer_make(&answer, &group, 1, &error), LDS_OK);
    check_has(answer.verdict, "Gain is lower over part of the frequency range.");
    lds_answer_free(&answer);
    lds_comparison_free(&c);
    lds_measurement_free(&a);
    a = capture("a.wav", 0, 0.0, 0.0);
    compare(&b, &a, &c);
    assert_int_equal(c.channel[0].axes, 0);
    assert_string_equal(c.channel[0].not_compared_why[0].key, KEY);
    assert_string_equal(c.channel[0].not_compared_why[0].reason, "not among the series after");
    lds_comparison_free(&c);
    lds_measurement_free(&a);
    lds_measurement_free(&b);
}

static char *text_of(const struct lds_comparison *c)
{
    char *text = NULL;
    size_t size;
    struct lds_error error;
    FILE *out = open_memstream(&text, &size);
    assert_int_equal(lds_comparison_text(c, out, &error), LDS_OK);
    fclose(out);
    return text;
}

/* Series of a pair of channels are compared like those of a channel, and listed under its second channel. */
static void test_pair(void **state)
{
    (void)state;
    char *folder = new_folder(), *path[2] = {place(folder, "c.json"), place(folder, "c.csv")};
    struct lds_measurement b = capture_of_pair("b.wav", 73, 1e3, 0.0), a = capture_of_pair("a.wav", 31, 2e3, 3.0);
    struct lds_comparison c;
    struct lds_error error;
    compare(&b, &a, &c);
    assert_int_equal(c.channel[0].axes, 0);
    const struct lds_axis_change *axis = lds_compared_axis(&c.channel[1], "response.gain.1-2");
    assert_true(axis->points == 31 && axis->regions == 1 && axis->channels[0] == 1 && axis->channels[1] == 2);
    for (size_t i = 0; i < axis->points; i++) {
        const struct lds_axis_span *p = &axis->point[i];
        double truth = gain_db(p->x, 2e3, 3.0) - gain_db(p->x, 2e3, 0.0);
        if (!(fabs(p->change - truth) < 1e-9) || !(p->low < truth) || !(p->high > truth))
            fail_msg("at %g Hz: %g (%g to %g), put in %g", p->x, p->change, p->low, p->high, truth);
    }
    assert_int_equal(lds_comparison_json(&c, path[0], &error), LDS_OK);
    json_t *root = load(path[0]), *channel = json_array_get(at(root, "channels"), 1);
    json_t *one = at(at(channel, "series"), "response.gain.1-2");
    check_number(json_array_get(json_array_get(at(one, "rows"), 30), 1), -3.0);
    assert_string_equal(json_string_value(at(first(one, "regions"), "word")), "lower");
    json_decref(root);
    assert_int_equal(lds_comparison_csv(&c, path[1], &error), LDS_OK);
    char *csv = read_all(path[1]), *text = text_of(&c);
    check_has(csv, "\r\n2,region,response.gain.region.1-2.1,gain re 1 kHz over frequency,");
    check_has(csv, "\r\n2,series,response.gain.1-2.11,gain re 1 kHz at 200 Hz,");
    check_has(text, "\nGain re 1 kHz over frequency, channels 1 and 2\n  Lower from 2.518 kHz to 20 kHz, by ");
    free(text);
    free(csv);
    lds_comparison_free(&c);
    a.channel[0].figure[0].flags = LDS_FLAG_CLIPPED; /* a fault of one channel hides the pair */
    compare(&b, &a, &c);
    assert_int_equal(c.channel[1].axes, 0);
    bool said = false;
    for (size_t i = 0; i < c.channel[1].not_compared; i++)
        said = said ||
               (strcmp(c.channel[1].not_compared_why[i].key, "response.gain.1-2") == 0 &&
                strcmp(c.channel[1].not_compared_why[i].reason, "the capture after is clipped: record it again") == 0);
    assert_true(said);
    lds_comparison_free(&c);
    lds_measurement_free(&a);
    lds_measurement_free(&b);
    remove_all(folder, path, 2);
}

/* If only the noise changes, parts are rarely called: at most half of 1 % of pairs, whose 0.1 % quantile over 300 pairs
 * is 6. */
static void test_false_alarms(void **state)
{
    (void)state;
    struct sim_random random;
    int called = 0, held = 0, points = 0;
    sim_random_seed(&random, SEED);
    for (int pair = 0; pair < 300; pair++) {
        struct lds_measurement side[2] = {capture("b.wav", 40, 1e3, 0.0), capture("a.wav", 40, 1e3, 0.0)};
        for (int s = 0; s < 2; s++) {
            struct lds_series *series = lds_channel_own_series(&side[s].channel[0], KEY);
            double together = 0.03 * sim_random_gaussian(&random); /* the effect of re-cabling */
            for (size_t i = 0; i < series->rows; i++) {
                double db = lds_series_value(series, i, LDS_CURVE_Y) + together +
                            HALF / 1.959963984540054 * sim_random_gaussian(&random);
                lds_series_set(series, i, LDS_CURVE_Y, db);
                lds_series_set_limits(series, i, LDS_CURVE_Y, db - HALF, db + HALF);
            }
        }
        struct lds_comparison c;
        compare(&side[0], &side[1], &c);
        const struct lds_axis_change *axis = lds_compared_axis(&c.channel[0], KEY);
        called += axis->regions > 0;
        for (size_t i = 0; i < axis->points; i++, points++)
            held += axis->point[i].low <= 0.0 && axis->point[i].high >= 0.0;
        lds_comparison_free(&c);
        lds_measurement_free(&side[0]);
        lds_measurement_free(&side[1]);
    }
    if (called > 6 || !(fabs((double)held / points - 0.95) < 0.02))
        fail_msg("seed %llu: %d of 300 pairs called, %.4f of the intervals hold 0", (unsigned long long)SEED, called,
                 (double)held / points);
}

static void test_comparison_written(void **state)
{
    (void)state;
    char *folder = new_folder(), *path[2] = {place(folder, "c.json"), place(folder, "c.csv")};
    struct lds_measurement b = capture("b.wav", 31, 1e3, 0.0), a = capture("a.wav", 31, 2e3, 3.0);
    struct lds_comparison c;
    struct lds_error error;
    compare(&b, &a, &c);
    assert_int_equal(lds_comparison_json(&c, path[0], &error), LDS_OK);
    json_t *root = load(path[0]), *one = at(at(first(root, "channels"), "series"), KEY);
    assert_string_equal(json_string_value(at(one, "x_unit")), "Hz");
    assert_string_equal(json_string_value(at(one, "unit")), "dB");
    check_number(json_array_get(json_array_get(at(one, "rows"), 30), 1), -3.0);
    check_number(at(first(one, "regions"), "high_hz"), 20e3);
    assert_string_equal(json_string_value(at(first(one, "regions"), "word")), "lower");
    assert_true(json_is_false(at(first(one, "regions"), "worse")));
    json_decref(root);
    assert_int_equal(lds_comparison_csv(&c, path[1], &error), LDS_OK);
    char *csv = read_all(path[1]);
    check_has(csv, "\r\n1,region,response.gain.region.1,gain re 1 kHz over frequency,");
    check_has(csv, "\r\n1,series,response.gain.11,gain re 1 kHz at 200 Hz,");
    free(csv);
    char *text = text_of(&c);
    check_has(text, "\nGain re 1 kHz over frequency\n  Lower from 2.518 kHz to 20 kHz, by ");
    free(text);
    lds_comparison_free(&c);
    lds_measurement_free(&a);
    lds_measurement_free(&b);
    remove_all(folder, path, 2);
}

/* One picture of each capture, both in one frame, and the change. */
static void test_plots(void **state)
{
    (void)state;
    static const char *const stem[] = {"b-channel1-response-gain", "comparison-channel1-response-gain",
                                       "comparison-channel1-response-gain-change", "comparison-channel1-changes"};
    static const char *const suffix[] = {"dat", "gp", "png", "svg"};
    char *folder = new_folder(), name[96];
    struct lds_measurement b = capture("b.wav", 31, 1e3, 0.0), a = capture("a.wav", 25, 2e3, 3.0);
    struct lds_series *series = lds_channel_own_series(&b.channel[0], KEY);
    lds_series_set(series, 30, LDS_CURVE_Y, NAN);
    lds_series_set_limits(series, 30, LDS_CURVE_Y, NAN, -1.5);
    struct lds_comparison c;
    struct lds_error error = {0};
    int drawn[2];
    compare(&b, &a, &c);
    if (lds_report_plots(&b, 1, folder, 0, &drawn[0], &error) != LDS_OK ||
        lds_comparison_plots(&c, (struct lds_side){&b, 1}, (struct lds_side){&a, 1}, folder, 0, &drawn[1], &error) !=
            LDS_OK)
        fail_msg("%s", error.message);
    for (size_t i = 0; i < sizeof stem / sizeof *stem; i++)
        for (size_t k = 0; k < (drawn[0] && drawn[1] ? 4 : 2); k++) {
            snprintf(name, sizeof name, "%s.%s", stem[i], suffix[k]);
            char *path = place(folder, name), *whole = read_all(path);
            if (strcmp(name, "b-channel1-response-gain.dat") == 0) {
                check_has(whole, "\n200 -0.0698970004 -0.0898970004 -0.0498970004\n");
                check_has(whole, "\n20000 NaN NaN -1.5\n\n\n# below the floor: upper limits\n20000 -1.5\n");
            }
            if (strcmp(name, "comparison-channel1-response-gain.gp") == 0)
                check_has(whole, "index 1 using 1:2 with lines");
            free(whole);
            unlink(path);
            free(path);
        }
    assert_int_equal(rmdir(folder), 0); /* nothing else was drawn */
    free(folder);
    lds_comparison_free(&c);
    lds_measurement_free(&a);
    lds_measurement_free(&b);
}

/* Both pairs in one frame, and the change; of the channels there is nothing to draw. */
static void test_plots_of_pair(void **state)
{
    (void)state;
    static const char *const stem[] = {"b-channel2-response-gain-1-2", "comparison-channel2-response-gain-1-2",
                                       "comparison-channel2-response-gain-1-2-change", "comparison-channel1-changes",
                                       "comparison-channel2-changes"};
    static const char *const suffix[] = {"dat", "gp", "png", "svg"};
    char *folder = new_folder(), name[96];
    struct lds_measurement b = capture_of_pair("b.wav", 31, 1e3, 0.0), a = capture_of_pair("a.wav", 25, 2e3, 3.0);
    struct lds_comparison c;
    struct lds_error error = {0};
    int drawn, drawn_too;
    compare(&b, &a, &c);
    if (lds_report_plots(&b, 1, folder, 0, &drawn_too, &error) != LDS_OK ||
        lds_comparison_plots(&c, (struct lds_side){&b, 1}, (struct lds_side){&a, 1}, folder, 0, &drawn, &error) !=
            LDS_OK)
        fail_msg("%s", error.message);
    for (size_t i = 0; i < sizeof stem / sizeof *stem; i++)
        for (size_t k = 0; k < (drawn && drawn_too ? 4 : 2); k++) {
            snprintf(name, sizeof name, "%s.%s", stem[i], suffix[k]);
            char *path = place(folder, name), *whole = read_all(path);
            if (k == 0 && i < 2) {
                check_has(whole, "\n# channels: 1 and 2\n");
                check_has(whole, "\n200 -0.0698970004 -0.0898970004 -0.0498970004\n");
            }
            free(whole);
            unlink(path);
            free(path);
        }
    assert_int_equal(rmdir(folder), 0);
    free(folder);
    lds_comparison_free(&c);
    lds_measurement_free(&a);
    lds_measurement_free(&b);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_json),
        cmocka_unit_test(test_damaged),
        cmocka_unit_test(test_csv_and_text),
        cmocka_unit_test(test_compared),
        cmocka_unit_test(test_pair),
        cmocka_unit_test(test_false_alarms),
        cmocka_unit_test(test_comparison_written),
        cmocka_unit_test(test_plots),
        cmocka_unit_test(test_plots_of_pair),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
