/* The table of series, and rows of series. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "record/quantities.h"
#include "record/series.h"

/* JSON has x and value, over an axis also low and high; a further column would be lost. */
static void check_columns(const struct lds_series_kind *kind)
{
    if (kind->form == LDS_FORM_LINES)
        return;
    if (kind->columns != 2 || kind->axis != LDS_CURVE_X || kind->value != LDS_CURVE_Y)
        fail_msg(
            "%s has %d columns, its axis in column %d and its value in column %d; exactly two columns expected, the "
            "axis first, since JSON has no place for others",
            kind->key, kind->columns, kind->axis, kind->value);
    if (kind->form == LDS_FORM_OVER_AXIS && !kind->column[LDS_CURVE_Y].limits)
        fail_msg("%s: its values have no limits; JSON has them for each row of a series over an axis", kind->key);
}

/* A term and a sentence; one term has one definition. */
static void check_definition(const struct lds_series_kind *kind, size_t i)
{
    if (!kind[i].term || !kind[i].definition || kind[i].definition[strlen(kind[i].definition) - 1] != '.')
        fail_msg("%s: a term and its definition, a sentence, expected", kind[i].key);
    for (size_t k = 0; k < i; k++)
        if ((strcmp(kind[k].term, kind[i].term) == 0) != (strcmp(kind[k].definition, kind[i].definition) == 0))
            fail_msg("%s and %s share a term or a definition, but not both", kind[k].key, kind[i].key);
}

/* What the chain adds is reckoned in dB. */
static void check_chain(const struct lds_series_kind *kind)
{
    for (int c = 0; c < kind->columns && kind->chain != LDS_CHAIN_NONE; c++) {
        const struct lds_column *column = &kind->column[c];
        if ((c == kind->value || column->limits) && column->quantity != LDS_QUANTITY_DB &&
            !lds_quantity_row(column->quantity)->level)
            fail_msg(
                "%s has a rule for the chain, but its column %s is neither a level nor in dB; LDS_CHAIN_NONE expected",
                kind->key, column->name);
    }
}

static void test_table(void **state)
{
    (void)state;
    size_t count;
    const struct lds_series_kind *kind = lds_series_kinds(&count);
    for (size_t i = 0; i < count; i++) {
        assert_ptr_equal(lds_series_kind_find(kind[i].key), &kind[i]); /* no duplicate keys */
        assert_true(kind[i].label && kind[i].label[0]);
        assert_in_range(kind[i].columns, 2, LDS_COLUMNS);
        assert_in_range(kind[i].axis, 0, kind[i].columns - 1);
        assert_in_range(kind[i].value, 0, kind[i].columns - 1);
        assert_int_not_equal(kind[i].axis, kind[i].value);
        for (int c = 0; c < kind[i].columns; c++) {
            assert_non_null(kind[i].column[c].name);
            assert_non_null(lds_quantity_unit(kind[i].column[c].quantity, true));
        }
        if (kind[i].row_key) /* CSV names rows by their label, or by their text */
            assert_true(kind[i].row_label || kind[i].text);
        check_definition(kind, i);
        check_columns(&kind[i]);
        check_chain(&kind[i]);
    }
    assert_null(lds_series_kind_find("nothing"));
}

/* Each name in code belongs to one row. */
static void test_names_in_code(void **state)
{
    (void)state;
    size_t count;
    const struct lds_series_kind *kind = lds_series_kinds(&count);
    for (int id = LDS_SERIES_OTHER + 1; id <= LDS_SERIES_THD_BY_POWER; id++) {
        size_t rows = 0;
        for (size_t i = 0; i < count; i++)
            rows += kind[i].id == (enum lds_series_id)id;
        if (rows != 1)
            fail_msg("%zu rows of the table have the name %d", rows, id);
        assert_int_equal(lds_series_kind_of((enum lds_series_id)id)->id, id);
    }
    assert_string_equal(lds_series_kind_of(LDS_SERIES_THD_N_BY_POWER)->key, "distortion.by_power.thd_n");
}

static void test_rows(void **state)
{
    (void)state;
    struct lds_measurement m = {.channels = 1, .channel = calloc(1, sizeof *m.channel)};
    struct lds_channel *channel = m.channel;
    assert_null(lds_channel_add_series(channel, "nothing"));
    assert_int_equal(lds_channel_series(channel, "harmonics")->rows, 0);
    struct lds_series *lines = lds_channel_add_series(channel, "harmonics");
    for (int k = 1; k <= 100; k++) {
        const double value[] = {k, 1000.0 * k, 1.0 / k, -k, 180.0};
        assert_true(lds_series_add_row(lines, value));
    }
    lds_series_set_limits(lines, 41, LDS_LINE_RELATIVE, -43.0, -41.0);
    lds_series_set(lines, 41, LDS_LINE_PHASE, 0.0);
    lines->flag[41] |= LDS_FLAG_NEAR_LINE;
    assert_non_null(lds_channel_add_series(channel, "spurs"));
    lines = lds_channel_own_series(channel, "harmonics");
    assert_int_equal(lines->rows, 100);
    assert_ptr_equal(lds_channel_series(channel, "harmonics"), lines);
    assert_ptr_equal(lds_channel_find_series(channel, LDS_SERIES_HARMONICS), lines);
    assert_int_equal(lds_channel_find_series(channel, LDS_SERIES_FLOOR)->rows, 0);
    struct lds_cell relative = lds_series_cell(lines, 41, LDS_LINE_RELATIVE);
    assert_true(relative.value == -42.0 && relative.low == -43.0 && relative.high == -41.0);
    assert_true(lds_series_value(lines, 41, LDS_LINE_PHASE) == 0.0 &&
                lds_series_value(lines, 42, LDS_LINE_PHASE) == 180.0);
    assert_int_equal(lines->flag[41], LDS_FLAG_NEAR_LINE);
    assert_int_equal(lines->flag[42], 0);
    struct lds_cell level = lds_series_cell(lines, 41, LDS_LINE_LEVEL),
                    order = lds_series_cell(lines, 41, LDS_LINE_ORDER);
    assert_true(level.value == 1.0 / 42.0 && isnan(level.low) && isnan(level.high));
    assert_true(order.value == 42.0 && isnan(order.low));
    struct lds_series *spurs = lds_channel_own_series(channel, "spurs");
    assert_true(lds_series_add_row(spurs, (const double[]){7e3, 1e-6, 3.0}));
    assert_null(spurs->flag);
    assert_string_equal(spurs->text[0], "");
    lds_measurement_free(&m);
}

/* Between rows along the axis: over the logarithm of the frequency, and linearly over time; nothing outside. */
static void test_at(void **state)
{
    (void)state;
    struct lds_measurement m = {.channels = 1, .channel = calloc(1, sizeof *m.channel)};
    struct lds_series *gain = lds_channel_add_series(m.channel, "response.gain");
    const double hz[] = {10.0, 100.0, 10000.0};
    for (size_t i = 0; i < 3; i++) {
        assert_true(lds_series_add_row(gain, (const double[]){hz[i], (double)i}));
        lds_series_set_limits(gain, i, LDS_CURVE_Y, (double)i - 0.5, 2.0 * (double)i);
    }
    struct lds_cell at = lds_series_at(gain, 1000.0);
    assert_true(fabs(at.value - 1.5) < 1e-12 && fabs(at.low - 1.0) < 1e-12 && fabs(at.high - 3.0) < 1e-12);
    at = lds_series_at(gain, 10.0);
    assert_true(at.value == 0.0 && at.low == -0.5 && at.high == 0.0);
    assert_true(lds_series_at(gain, 10000.0).value == 2.0);
    assert_true(isnan(lds_series_at(gain, 9.999).value) && isnan(lds_series_at(gain, 10001.0).value));
    lds_series_set(gain, 2, LDS_CURVE_Y, NAN); /* unknown on one side means unknown in between */
    assert_true(isnan(lds_series_at(gain, 1000.0).value) && lds_series_at(gain, 100.0).value == 1.0);
    struct lds_series *wave = lds_channel_add_series(m.channel, "mains_waveform");
    assert_true(lds_series_add_row(wave, (const double[]){0.0, 1.0}) &&
                lds_series_add_row(wave, (const double[]){4.0, 3.0}));
    assert_true(fabs(lds_series_at(wave, 1.0).value - 1.5) < 1e-12);
    assert_true(isnan(lds_series_at(lds_channel_series(m.channel, "floor"), 1.0).value));
    lds_measurement_free(&m);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_table), cmocka_unit_test(test_names_in_code),
                                       cmocka_unit_test(test_rows), cmocka_unit_test(test_at)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
