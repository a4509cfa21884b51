/* Every series of the table that can be compared is compared, without code of its own: this test includes new rows of
 * the table. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <cmocka.h>
#include <jansson.h>

#include "compare/made.h"
#include "compare/scatter.h"
#include "loadside/report.h"
#include "record/series.h"
#include "simulate/check.h"

enum { ROWS = 8 };
static const double CHANGE = 6.0; /* dB, or in the unit of the values */

/* The value of row i of a column that is compared. */
static double value_of(const struct lds_series_kind *kind, int i, double change)
{
    enum lds_quantity quantity = kind->column[kind->value].quantity;
    bool linear = strcmp(lds_series_change_unit(kind), "dB") == 0 && quantity != LDS_QUANTITY_DB;
    return linear ? 1e-3 * pow(10.0, (change - i) / 20.0) : 100.0 - i + change;
}

/* Rows with numbers that suit the way in which the kind is matched; place: where on the axis, to separate lines of
 * different kinds. */
static void fill(struct lds_series *series, size_t place, double change)
{
    const struct lds_series_kind *kind = series->kind;
    for (int i = 0; i < ROWS; i++) {
        double x = 1000.0 * (double)(place + 1) + 100.0 * i, value = value_of(kind, i, change), row[LDS_COLUMNS] = {0};
        double low = 20.0 * pow(10.0, 0.375 * i), high = 20.0 * pow(10.0, 0.375 * (i + 1)); /* to 20 kHz */
        row[kind->axis] = kind->match == LDS_MATCH_BANDS ? sqrt(low * high) : x;
        row[kind->value] = value;
        if (kind->match == LDS_MATCH_ORDER || kind->match == LDS_MATCH_NAME)
            row[LDS_LINE_ORDER] = kind->first_order + i;
        if (kind->match == LDS_MATCH_NEAREST)
            row[LDS_SPUR_MARGIN] = 40.0;
        if (kind->match == LDS_MATCH_BANDS) {
            row[LDS_FLOOR_LOW_HZ] = low;
            row[LDS_FLOOR_HIGH_HZ] = high;
            row[LDS_FLOOR_DENSITY] = row[LDS_FLOOR_MEAN] = 1e-3 * value;
            row[LDS_FLOOR_DOF] = 1e5;
        }
        assert_true(lds_series_add_row(series, row));
        if (kind->match == LDS_MATCH_NAME)
            snprintf(series->text[i], LDS_SERIES_TEXT, "line %d", i);
        for (int c = 0; c < kind->columns; c++)
            if (kind->column[c].limits)
                lds_series_set_limits(series, (size_t)i, c, 0.999 * row[c], 1.001 * row[c]);
    }
}

static void make(struct lds_measurement *m, const char *file, double change)
{
    size_t kinds;
    const struct lds_series_kind *kind = lds_series_kinds(&kinds);
    made_driven(m, file, 0.0, 0.0);
    for (size_t k = 0; k < kinds; k++)
        if (kind[k].match != LDS_MATCH_NONE || kind[k].pictured)
            fill(lds_channel_add_series(&m->channel[0], kind[k].key), k, change);
}

static bool is_of_lines(const struct lds_series_kind *kind)
{
    return kind->match == LDS_MATCH_ORDER || kind->match == LDS_MATCH_NAME || kind->match == LDS_MATCH_NEAREST;
}

static void check_change(const char *key, double change, double low, double high, enum lds_word word)
{
    if (!(fabs(change - CHANGE) < 1e-6) || !(low < CHANGE && high > CHANGE) || word != LDS_HIGHER)
        fail_msg("%s: %g (%g to %g), %s, but %g higher was put in", key, change, low, high, lds_word_name(word),
                 CHANGE);
}

static void check_lines(const struct lds_compared_channel *channel, const struct lds_series_kind *kind)
{
    size_t count = 0;
    for (size_t i = 0; i < channel->lines; i++) {
        const struct lds_line_change *line = &channel->line[i];
        if (line->kind != kind)
            continue;
        check_change(kind->key, line->change_db, line->low_db, line->high_db, line->word);
        count++;
    }
    if (count != ROWS)
        fail_msg("%zu lines of %s are compared", count, kind->key);
}

static void check_axis(const struct lds_compared_channel *channel, const struct lds_series_kind *kind)
{
    const struct lds_axis_change *axis = lds_compared_axis(channel, kind->key);
    bool judged = kind->family != LDS_FAMILY_NONE && strcmp(lds_series_change_unit(kind), "dB") == 0;
    if (axis->points != ROWS || axis->regions != (judged ? 1 : 0))
        fail_msg("%s: %zu points, %zu regions", kind->key, axis->points, axis->regions);
    for (size_t i = 0; i < axis->points; i++)
        check_change(kind->key, axis->point[i].change, axis->point[i].low, axis->point[i].high,
                     judged ? axis->point[i].word : LDS_HIGHER);
    if (judged)
        check_change(kind->key, axis->region[0].change, axis->region[0].low, axis->region[0].high,
                     axis->region[0].word);
}

static void compare(const struct lds_measurement *b, const struct lds_measurement *a, struct lds_comparison *c)
{
    struct lds_compare_options options;
    struct lds_error error = {0};
    lds_compare_options_init(&options);
    options.repeat_none = true;
    if (lds_compare((struct lds_side){b, 1}, (struct lds_side){a, 1}, &options, c, &error) != LDS_OK)
        fail_msg("%s", error.message);
}

static void test_every_kind(void **state)
{
    (void)state;
    size_t kinds;
    const struct lds_series_kind *kind = lds_series_kinds(&kinds);
    struct lds_measurement b, a;
    struct lds_comparison c;
    make(&b, "before.wav", 0.0);
    make(&a, "after.wav", CHANGE);
    compare(&b, &a, &c);
    for (size_t k = 0; k < kinds; k++)
        if (is_of_lines(&kind[k]))
            check_lines(&c.channel[0], &kind[k]);
        else if (kind[k].match != LDS_MATCH_NONE)
            check_axis(&c.channel[0], &kind[k]);
        else if (kind[k].form != LDS_FORM_CURVE && !kind[k].pictured) /* these are not only pictures */
            fail_msg("%s cannot be compared", kind[k].key);
    lds_comparison_free(&c);
    lds_measurement_free(&b);
    lds_measurement_free(&a);
}

/* In a signal that moves, the level says nothing, and the curves say everything. */
static void test_curves_of_a_sweep(void **state)
{
    (void)state;
    size_t kinds;
    const struct lds_series_kind *kind = lds_series_kinds(&kinds);
    struct lds_measurement m[2];
    struct lds_comparison c;
    for (int i = 0; i < 2; i++) {
        make(&m[i], i ? "after.wav" : "before.wav", i ? CHANGE : 0.0);
        m[i].signal.kind = m[i].channel[0].signal.kind = LDS_SIGNAL_SWEEP;
    }
    compare(&m[0], &m[1], &c);
    for (size_t k = 0; k < kinds; k++)
        if (kind[k].match == LDS_MATCH_AXIS)
            check_axis(&c.channel[0], &kind[k]);
    for (size_t i = 0; i < c.channel[0].changes; i++)
        assert_string_not_equal(c.channel[0].change[i].key, "level.rms");
    lds_comparison_free(&c);
    lds_measurement_free(&m[0]);
    lds_measurement_free(&m[1]);
}

/* The scatter from capture to capture is declared in dB: it says nothing of values in another unit. */
static void test_scatter_is_in_decibels(void **state)
{
    (void)state;
    struct lds_scatter scatter = {.declared_db = {[LDS_FAMILY_NOISE] = 0.1}};
    struct lds_series_kind kind = {.key = "made", .family = LDS_FAMILY_NOISE, .columns = 2, .value = LDS_CURVE_Y};
    static const struct {
        enum lds_quantity quantity;
        double scatter;
    } of[] = {{LDS_QUANTITY_DB, 0.1},      {LDS_QUANTITY_LEVEL, 0.1},
              {LDS_QUANTITY_DENSITY, 0.1}, {LDS_QUANTITY_OHM, 0.1}, /* compared in dB */
              {LDS_QUANTITY_NUMBER, 0.0},  {LDS_QUANTITY_DEGREES, 0.0},
              {LDS_QUANTITY_SECONDS, 0.0}, {LDS_QUANTITY_SAMPLE, 0.0}};
    for (size_t i = 0; i < sizeof of / sizeof of[0]; i++) {
        kind.column[LDS_CURVE_Y].quantity = of[i].quantity;
        assert_true(lds_scatter_of_series(&scatter, &kind) == of[i].scatter);
    }
}

static char *read_all(const char *path)
{
    FILE *in = fopen(path, "rb");
    char *text = calloc(1, 1 << 20);
    if (!in || !text || fread(text, 1, (1 << 20) - 1, in) == 0)
        fail_msg("%s: not there", path);
    fclose(in);
    return text;
}

/* The picture of the change: in dB both ways, for what matters; else as far as the change and 0 with a tenth as room.
 */
static void check_change_range(const char *folder, const char *name, bool decibels)
{
    char path[160];
    double low = NAN, high = NAN;
    snprintf(path, sizeof path, "%s/comparison-channel1-%s-change.gp", folder, name);
    char *script = read_all(path);
    const char *range = strstr(script, "set yrange [");
    if (!range || sscanf(range, "set yrange [%lf:%lf]", &low, &high) != 2)
        fail_msg("%s: no range", name);
    assert_null(strstr(script, ", ' noenhanced"));
    assert_true(high > CHANGE && high < 1.3 * CHANGE);
    if (decibels ? !(low <= -0.4) : !(low <= -0.1 * CHANGE && low > -0.12 * CHANGE))
        fail_msg("%s: the range starts at %g", name, low);
    free(script);
}

/* JSON has each of them; for those compared point by point a picture shows both sides in one frame. */
static void test_every_kind_is_written(void **state)
{
    (void)state;
    size_t kinds, lines = 0;
    const struct lds_series_kind *kind = lds_series_kinds(&kinds);
    char folder[] = "/tmp/loadside-series-XXXXXX", path[160], command[64];
    struct lds_measurement b, a;
    struct lds_comparison c;
    struct lds_error error = {0};
    int drawn;
    assert_non_null(mkdtemp(folder));
    make(&b, "before.wav", 0.0);
    make(&a, "after.wav", CHANGE);
    compare(&b, &a, &c);
    snprintf(path, sizeof path, "%s/c.json", folder);
    assert_int_equal(lds_comparison_json(&c, path, &error), LDS_OK);
    assert_int_equal(
        lds_comparison_plots(&c, (struct lds_side){&b, 1}, (struct lds_side){&a, 1}, folder, 0, &drawn, &error),
        LDS_OK);
    json_t *root = json_load_file(path, 0, NULL), *channel = json_array_get(json_object_get(root, "channels"), 0);
    for (size_t k = 0; k < kinds; k++) {
        lines += is_of_lines(&kind[k]) ? ROWS : 0;
        if (kind[k].match == LDS_MATCH_BANDS)
            assert_int_equal(json_array_size(json_object_get(json_object_get(channel, "density"), "bands")), ROWS);
        if (kind[k].match != LDS_MATCH_AXIS && !kind[k].pictured)
            continue;
        json_t *one = json_object_get(json_object_get(channel, "series"), kind[k].key);
        if (kind[k].match == LDS_MATCH_AXIS)
            assert_int_equal(json_array_size(json_object_get(one, "rows")), ROWS);
        char name[64];
        snprintf(name, sizeof name, "%s", kind[k].key);
        for (char *point = name; *point; point++)
            *point = *point == '.' ? '-' : *point;
        snprintf(path, sizeof path, "%s/comparison-channel1-%s.gp", folder, name);
        if (kind[k].part_of) { /* it is drawn in the picture of its sum */
            assert_int_not_equal(access(path, F_OK), 0);
            continue;
        }
        char *script = read_all(path);
        assert_null(strstr(script, ", ' noenhanced")); /* a title without a unit has no comma */
        assert_non_null(strstr(script, "index 0 using 1:2 with lines"));
        assert_non_null(strstr(script, "index 1 using 1:2 with lines"));
        free(script);
        if (kind[k].match == LDS_MATCH_AXIS)
            check_change_range(folder, name, strcmp(lds_series_change_unit(&kind[k]), "dB") == 0);
    }
    assert_int_equal(json_array_size(json_object_get(channel, "lines")), lines);
    json_decref(root);
    snprintf(command, sizeof command, "rm -r %s", folder);
    assert_int_equal(system(command), 0);
    lds_comparison_free(&c);
    lds_measurement_free(&b);
    lds_measurement_free(&a);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_every_kind), cmocka_unit_test(test_curves_of_a_sweep),
                                       cmocka_unit_test(test_scatter_is_in_decibels),
                                       cmocka_unit_test(test_every_kind_is_written)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
