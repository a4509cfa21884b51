/* Units side by side. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "compare/made.h"
#include "simulate/check.h"
#include "simulate/random.h"

enum { UNITS = 8 };

static void make(struct lds_measurement m[UNITS], double odd_hum_db)
{
    struct sim_random random;
    sim_random_seed(&random, 12);
    for (int i = 0; i < UNITS; i++) {
        char name[16];
        snprintf(name, sizeof name, "unit %d.wav", i + 1);
        made_idle(&m[i], name, 0.3 * sim_random_gaussian(&random),
                  1.5 * sim_random_gaussian(&random) + (i == 3 ? odd_hum_db : 0.0));
    }
}

static void release(struct lds_measurement *m, size_t count, struct lds_unit_table *table, size_t tables)
{
    lds_unit_tables_free(table, tables);
    for (size_t i = 0; i < count; i++)
        lds_measurement_free(&m[i]);
}

static const struct lds_unit_row *row_of(const struct lds_unit_table *table, const char *key)
{
    for (size_t i = 0; i < table->rows; i++)
        if (strcmp(table->row[i].key, key) == 0)
            return &table->row[i];
    return NULL;
}

static enum lds_status compare(const struct lds_measurement *m, size_t count, bool channels,
                               struct lds_unit_table **table, size_t *tables, struct lds_error *error)
{
    struct lds_compare_options options;
    lds_compare_options_init(&options);
    return lds_compare_units((struct lds_side){m, count}, channels, &options, table, tables, error);
}

static void test_one_stands_out(void **state)
{
    (void)state;
    struct lds_measurement m[UNITS];
    struct lds_unit_table *table;
    struct lds_error error;
    size_t tables;
    make(m, 40.0);
    assert_int_equal(compare(m, UNITS, false, &table, &tables, &error), LDS_OK);
    assert_int_equal(tables, 1);
    assert_int_equal(table->units, UNITS);
    const struct lds_unit_row *hum = row_of(table, "mains.total");
    assert_int_equal(hum->stands_out, 3);
    assert_true(hum->worse && table->worse && hum->p_adjusted < 0.01);
    const struct lds_unit_row *noise = row_of(table, "noise.band.20-20k");
    assert_int_equal(noise->stands_out, -1);
    check_close(noise->median, 100e-6, 5e-6);
    assert_true(noise->spread > 0.0 && noise->spread < 10e-6);
    if (!strstr(table->summary, "unit 4.wav stands out in"))
        fail_msg("%s", table->summary);
    release(m, UNITS, table, tables);
}

/* A certain difference is not enough: it has to matter. */
static void test_small_ones_do_not_matter(void **state)
{
    (void)state;
    for (int turn = 0; turn < 2; turn++) {
        struct lds_measurement m[UNITS];
        struct lds_unit_table *table;
        struct lds_compare_options options;
        size_t tables;
        lds_compare_options_init(&options);
        options.repeat_none = true;
        if (turn)
            options.matters_db[LDS_FAMILY_NOISE] = 0.2;
        for (int i = 0; i < UNITS; i++) {
            char name[16];
            snprintf(name, sizeof name, "unit %d.wav", i + 1);
            made_idle(&m[i], name, 0.002 * (i % 3) + (i == 5 ? -0.3 : 0.0), 0.0);
        }
        assert_int_equal(lds_compare_units((struct lds_side){m, UNITS}, false, &options, &table, &tables, NULL),
                         LDS_OK);
        const struct lds_unit_row *noise = row_of(table, "noise.band.20-20k");
        assert_true(noise->p_adjusted < 0.01);
        assert_int_equal(noise->stands_out, turn ? 5 : -1);
        assert_false(table->worse); /* it is better */
        release(m, UNITS, table, tables);
    }
}

static void test_none_stands_out(void **state)
{
    (void)state;
    struct lds_measurement m[UNITS];
    struct lds_unit_table *table;
    struct lds_error error;
    size_t tables;
    make(m, 0.0);
    assert_int_equal(compare(m, UNITS, false, &table, &tables, &error), LDS_OK);
    for (size_t i = 0; i < table->rows; i++)
        assert_int_equal(table->row[i].stands_out, -1);
    assert_false(table->worse);
    assert_string_equal(table->summary, "None of the 8 units stands out.");
    release(m, UNITS, table, tables);
}

static void test_too_few(void **state)
{
    (void)state;
    struct lds_measurement m[UNITS];
    struct lds_unit_table *table;
    struct lds_error error = {0};
    size_t tables;
    make(m, 40.0);
    m[3].channel[0].figure[1].band_hz[1] = 18e3;
    assert_int_equal(compare(m + 1, 3, false, &table, &tables, &error), LDS_OK);
    const struct lds_unit_row *hum = row_of(table, "mains.total");
    assert_true(hum->stands_out == -1 && isnan(hum->p_adjusted));
    assert_non_null(strstr(table->summary, "four are needed"));
    assert_null(row_of(table, "noise.band.20-20k"));
    assert_string_equal(table->not_compared_why[0].key, "noise.band.20-20k");
    assert_non_null(strstr(table->not_compared_why[0].reason, "20 to 20000 Hz unit 2.wav, 20 to 18000 Hz unit 4.wav"));
    lds_unit_tables_free(table, tables);
    assert_int_equal(compare(m, 1, false, &table, &tables, &error), LDS_BAD_INPUT);
    release(m, UNITS, table, tables);
}

/* One file twice: mentioned once, and numbered, to distinguish what is said about each. */
static void test_twice(void **state)
{
    (void)state;
    struct lds_measurement m[UNITS];
    struct lds_unit_table *table;
    struct lds_error error = {0};
    size_t tables;
    make(m, 0.0);
    for (int i = 1; i < 3; i++) {
        lds_measurement_free(&m[i]);
        made_idle(&m[i], "unit 1.wav", 0.0, 0.0);
    }
    lds_measurement_free(&m[0]);
    made_idle(&m[0], "unit 1.wav", 0.0, 0.0);
    m[2].channel[0].figure[1].band_hz[1] = 18e3;
    assert_int_equal(compare(m, 4, false, &table, &tables, &error), LDS_OK);
    assert_string_equal(table->name[0], "unit 1.wav (1)");
    assert_string_equal(table->name[1], "unit 1.wav (2)");
    assert_string_equal(table->name[2], "unit 1.wav (3)");
    assert_string_equal(table->name[3], "unit 4.wav");
    assert_int_equal(table->notes, 2);
    assert_string_equal(table->note[0], "unit 1.wav (1) and unit 1.wav (2) are the same recording");
    assert_string_equal(table->note[1], "unit 1.wav (1) and unit 1.wav (3) are the same recording");
    assert_string_equal(table->not_compared_why[0].reason,
                        "it covers 20 to 20000 Hz unit 1.wav (1), 20 to 18000 Hz unit 1.wav (3)");
    release(m, UNITS, table, tables);
}

/* Channels are the units: one table, named by channel; balance is reported. */
static void test_channels(void **state)
{
    (void)state;
    struct lds_measurement m;
    struct lds_unit_table *table;
    struct lds_error error;
    size_t tables;
    made_capture(&m, "unit.wav", 5);
    for (size_t c = 1; c <= 5; c++)
        made_in(&m, c, "thd", -90.0 + 0.1 * (double)c, 0.05);
    assert_int_equal(compare(&m, 1, true, &table, &tables, &error), LDS_OK);
    assert_int_equal(tables, 1);
    assert_int_equal(table->channel, 0);
    assert_int_equal(table->units, 5);
    assert_string_equal(table->name[4], "unit.wav, channel 5");
    check_close(row_of(table, "thd")->median, -89.7, 1e-9);
    check_close(row_of(table, "thd")->spread, 0.14826, 1e-9); /* 1.4826 x 0.1 */
    release(&m, 1, table, tables);
}

/* A table of many normal figures: something is reported in at most one table in a hundred; four standard errors are
 * allowed. */
static void test_rate(void **state)
{
    (void)state;
    enum { TABLES = 400, ROWS = 10 };
    static const int sizes[2] = {4, UNITS};
    struct sim_random random;
    for (int s = 0; s < 2; s++) {
        int called = 0;
        sim_random_seed(&random, 5);
        for (int t = 0; t < TABLES; t++) {
            struct lds_measurement m[UNITS];
            struct lds_unit_table *table;
            struct lds_error error;
            size_t tables;
            for (int u = 0; u < sizes[s]; u++) {
                made_capture(&m[u], "unit.wav", 1);
                m[u].frames += u;
                for (int r = 0; r < ROWS; r++) {
                    char key[32];
                    snprintf(key, sizeof key, "noise.band.%d-20k", r + 20);
                    made_figure(&m[u], key, 1e-4 * pow(10.0, 0.1 * sim_random_gaussian(&random)), 1e-7);
                }
            }
            assert_int_equal(compare(m, (size_t)sizes[s], false, &table, &tables, &error), LDS_OK);
            bool any = false;
            for (size_t r = 0; r < table->rows; r++)
                any = any || table->row[r].stands_out >= 0;
            called += any;
            release(m, (size_t)sizes[s], table, tables);
        }
        if (called > TABLES * 0.01 + 4.0 * sqrt(TABLES * 0.01))
            fail_msg("seed 5: %d of %d tables of %d units call one", called, (int)TABLES, sizes[s]);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_one_stands_out),
                                       cmocka_unit_test(test_small_ones_do_not_matter),
                                       cmocka_unit_test(test_none_stands_out),
                                       cmocka_unit_test(test_too_few),
                                       cmocka_unit_test(test_twice),
                                       cmocka_unit_test(test_channels),
                                       cmocka_unit_test(test_rate)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
