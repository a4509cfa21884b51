/* What the recording of the chain does to series over an axis, and to their changes. */
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
#include "loadside/report.h"
#include "loadside/saved.h"
#include "record/series.h"
#include "simulate/check.h"
#include "simulate/random.h"

static const char THD[] = "distortion.by_frequency.thd";
static const double HALF = 0.05; /* of the 95 % intervals, dB */
static const uint64_t SEED = 20261128;
enum { POINTS = 21, BANDS = 30, HIDDEN = LDS_FLAG_NEAR_CHAIN | LDS_FLAG_CHAIN_LIMITED };

static double hz_of(int i, int points)
{
    return 100.0 * pow(100.0, (double)i / (points - 1)); /* 100 Hz to 10 kHz */
}

/* dB of the chain: from 35 dB below the amplifier's -80 to level with it. */
static double chain_db(double hz)
{
    return -115.0 + 17.5 * log10(hz / 100.0);
}

static void add(struct lds_series *series, double hz, double db)
{
    assert_true(lds_series_add_row(series, (const double[]){hz, db}));
    lds_series_set_limits(series, series->rows - 1, LDS_CURVE_Y, db - HALF, db + HALF);
}

/* The sum of an amplifier of amp_db and its chain, with random phases. */
static void amplifier(struct lds_measurement *m, const char *file, double amp_db, struct sim_random *random)
{
    made_capture(m, file, 1);
    made_figure(m, "level.rms", 1.0, 1e-4);
    for (int i = 0; i < POINTS; i++) {
        double hz = hz_of(i, POINTS), chain = pow(10.0, chain_db(hz) / 20.0), amp = pow(10.0, amp_db / 20.0);
        double phase = 2.0 * M_PI * sim_random_uniform(random);
        add(made_series(m, THD), hz, 20.0 * log10(hypot(amp + chain * cos(phase), chain * sin(phase))));
    }
}

/* Its points are at other places, so they are interpolated. */
static void loopback(struct lds_measurement *m)
{
    made_capture(m, "loopback.wav", 1);
    made_figure(m, "level.rms", 1.0, 1e-4);
    for (int i = 0; i < 8; i++)
        add(made_series(m, THD), hz_of(i, 8), chain_db(hz_of(i, 8)));
}

static void apply(struct lds_measurement *m, const struct lds_measurement *chain, size_t chains)
{
    struct lds_error error = {0};
    if (lds_chain_apply(m, chain, chains, &error) != LDS_OK)
        fail_msg("%s", error.message);
}

static void check_point(const struct lds_series *series, size_t row, const double before[2])
{
    struct lds_cell cell = lds_series_cell(series, row, LDS_CURVE_Y);
    double margin = cell.value - chain_db(lds_series_value(series, row, LDS_CURVE_X)), r = pow(10.0, -margin / 20.0);
    unsigned flags = margin < 10.0 ? HIDDEN : margin < 25.0 ? LDS_FLAG_NEAR_CHAIN : 0;
    if (series->flag[row] != flags)
        fail_msg("seed %llu, %g dB above the chain: flags %u", (unsigned long long)SEED, margin, series->flag[row]);
    if (!flags) {
        assert_true(cell.low == before[0] && cell.high == before[1]);
        return;
    }
    check_close(cell.high - cell.value, hypot(HALF, 20.0 * log10(1.0 + r)), 1e-9);
    if (r < 1.0)
        check_close(cell.value - cell.low, hypot(HALF, -20.0 * log10(1.0 - r)), 1e-9);
    else
        assert_true(isnan(cell.low));
    if (!(cell.low <= -80.0 || isnan(cell.low)) || !(cell.high >= -80.0)) /* the amplifier's own value */
        fail_msg("seed %llu, %g dB above the chain: %g to %g", (unsigned long long)SEED, margin, cell.low, cell.high);
}

static void test_points(void **state)
{
    (void)state;
    struct sim_random random;
    struct lds_measurement m, chain;
    sim_random_seed(&random, SEED);
    amplifier(&m, "amplifier.wav", -80.0, &random);
    loopback(&chain);
    struct lds_series *series = made_series(&m, THD);
    double before[POINTS][2];
    for (int i = 0; i < POINTS; i++) {
        before[i][0] = lds_series_cell(series, (size_t)i, LDS_CURVE_Y).low;
        before[i][1] = lds_series_cell(series, (size_t)i, LDS_CURVE_Y).high;
    }
    assert_int_equal(series->flags, LDS_FLAG_CHAIN_NOT_MEASURED);
    apply(&m, &chain, 1);
    assert_int_equal(series->flags, 0);
    for (int i = 0; i < POINTS; i++)
        check_point(series, (size_t)i, before[i]);
    assert_true(series->flag[0] == 0 && series->flag[POINTS - 1] == HIDDEN);
    lds_measurement_free(&m);
    lds_measurement_free(&chain);
}

/* For a chain below its own floor the upper limit is used; where it was not measured nothing is reported. */
static void test_below_the_chains_floor(void **state)
{
    (void)state;
    struct lds_measurement m, chain;
    made_capture(&m, "amplifier.wav", 1);
    made_capture(&chain, "loopback.wav", 1);
    for (int i = 0; i < 4; i++)
        add(made_series(&m, THD), 1000.0 * (i + 1), -80.0);
    struct lds_series *own = made_series(&chain, THD);
    for (int i = 0; i < 3; i++) {
        add(own, 1000.0 * (i + 1), NAN);
        lds_series_set_limits(own, (size_t)i, LDS_CURVE_Y, NAN, i == 0 ? -120.0 : -85.0);
    }
    apply(&m, &chain, 1);
    const unsigned *flag = made_series(&m, THD)->flag;
    assert_true(flag[0] == 0 && flag[1] == HIDDEN && flag[2] == HIDDEN && flag[3] == 0);
    lds_measurement_free(&m);
    lds_measurement_free(&chain);
}

/* No recording, one without the series, and one that was driven where the capture is idle. */
static void test_not_measured(void **state)
{
    (void)state;
    struct lds_measurement m, chain;
    made_idle(&m, "amplifier.wav", 0.0, 0.0);
    made_idle(&chain, "shorted.wav", -20.0, -20.0);
    add(made_series(&m, THD), 1000.0, -80.0);
    apply(&m, NULL, 0);
    assert_int_equal(made_series(&m, THD)->flags, LDS_FLAG_CHAIN_NOT_MEASURED);
    apply(&m, &chain, 1);
    assert_int_equal(made_series(&m, THD)->flags, LDS_FLAG_CHAIN_NOT_MEASURED);
    lds_measurement_free(&chain);
    made_driven(&chain, "loopback.wav", 0.0, 0.0);
    add(made_series(&chain, THD), 1000.0, -80.0);
    apply(&m, &chain, 1);
    assert_int_equal(made_series(&m, THD)->flags, LDS_FLAG_CHAIN_NOT_COMPARABLE);
    assert_int_equal(made_series(&m, THD)->flag[0], 0);
    lds_measurement_free(&m);
    lds_measurement_free(&chain);
}

/* A noise floor: level_db of band i. */
static void add_floor(struct lds_measurement *m, double (*level_db)(int band))
{
    for (int i = 0; i < BANDS; i++) {
        double low = 20.0 * pow(10.0, 0.1 * i);
        made_band(m, low, low * pow(10.0, 0.1), 1e-6 * pow(10.0, level_db(i) / 20.0), 4000.0);
    }
}

static double before_db(int band)
{
    (void)band;
    return 0.0;
}

/* 6 dB lower everywhere; bands 10 to 19 are limited by the chain. */
static double after_db(int band)
{
    (void)band;
    return -6.0;
}

static double shorted_db(int band)
{
    return band < 10 ? -30.0 : band < 20 ? -7.0 : -14.0;
}

/* Noise adds in power: only flags. */
static void test_floor(void **state)
{
    (void)state;
    struct lds_measurement m, chain;
    made_idle(&m, "amplifier.wav", 0.0, 0.0);
    made_idle(&chain, "shorted.wav", -30.0, -30.0);
    add_floor(&m, after_db);
    add_floor(&chain, shorted_db);
    apply(&m, &chain, 1);
    const struct lds_series *floor = made_series(&m, "floor");
    for (size_t i = 0; i < BANDS; i++) {
        assert_int_equal(floor->flag[i], i < 10 ? 0 : i < 20 ? HIDDEN : LDS_FLAG_NEAR_CHAIN);
        check_close(lds_series_value(floor, i, LDS_FLOOR_MEAN), 1e-6 * pow(10.0, -0.3), 1e-18);
    }
    lds_measurement_free(&m);
    lds_measurement_free(&chain);
}

static void compare(const struct lds_measurement *b, const struct lds_measurement *a, struct lds_comparison *c)
{
    struct lds_compare_options options;
    struct lds_error error = {0};
    lds_compare_options_init(&options);
    if (lds_compare((struct lds_side){b, 1}, (struct lds_side){a, 1}, &options, c, &error) != LDS_OK)
        fail_msg("%s", error.message);
}

/* Where the chain hides the side after, the noise is lower by at least what is seen; the rest is separate. */
static void test_change_of_floor(void **state)
{
    (void)state;
    struct lds_measurement b, a, chain;
    struct lds_comparison c;
    made_idle(&b, "before.wav", 0.0, 0.0);
    made_idle(&a, "after.wav", 0.0, 0.0);
    made_idle(&chain, "shorted.wav", -30.0, -30.0);
    add_floor(&b, before_db);
    add_floor(&a, after_db);
    add_floor(&chain, shorted_db);
    apply(&b, &chain, 1);
    apply(&a, &chain, 1);
    compare(&b, &a, &c);
    const struct lds_axis_change *axis = lds_compared_axis(&c.channel[0], "floor");
    assert_int_equal(axis->regions, 3);
    for (size_t i = 0; i < 3; i++) {
        const struct lds_axis_span *region = &axis->region[i];
        bool hidden = i == 1;
        assert_int_equal(region->word, LDS_LOWER);
        assert_true(hidden == isnan(region->low) && hidden == !!(region->flags & LDS_FLAG_CHAIN_LIMITED));
        assert_true(region->high > -6.0 && region->high < -5.5 && (hidden || region->low < -6.0));
    }
    check_close(axis->region[1].from, 200.0, 1e-6);
    check_close(axis->region[1].to, 2000.0, 1e-6);
    for (size_t i = 0; i < axis->points; i++)
        assert_true(isnan(axis->point[i].low) == (i >= 10 && i < 20));
    char *text = NULL;
    size_t size;
    struct lds_error error;
    FILE *out = open_memstream(&text, &size);
    assert_int_equal(lds_comparison_text(&c, out, &error), LDS_OK);
    fclose(out);
    if (!strstr(text, "\n  Lower from 200 Hz to 2 kHz, by at least 5."))
        fail_msg("%s", text);
    free(text);
    lds_comparison_free(&c);
    lds_measurement_free(&a);
    lds_measurement_free(&b);
    lds_measurement_free(&chain);
}

static json_t *load(const char *path)
{
    json_t *root = json_load_file(path, 0, NULL);
    assert_non_null(root);
    return root;
}

/* The change from an amplifier clear of the chain to one that the chain hides at its upper end: before, after and chain
 * through JSON, as a user has them. */
static void test_change_of_points(void **state)
{
    (void)state;
    char folder[] = "/tmp/loadside-chain-XXXXXX", path[64];
    struct sim_random random;
    struct lds_measurement side[2], chain, *read;
    struct lds_comparison c;
    struct lds_error error = {0};
    size_t count;
    assert_non_null(mkdtemp(folder));
    snprintf(path, sizeof path, "%s/a.json", folder);
    sim_random_seed(&random, SEED);
    amplifier(&side[0], "before.wav", -60.0, &random);
    amplifier(&side[1], "after.wav", -80.0, &random);
    loopback(&chain);
    for (int s = 0; s < 2; s++)
        apply(&side[s], &chain, 1);
    assert_int_equal(lds_report_json(&side[1], 1, path, &error), LDS_OK);
    if (lds_saved_read(path, &read, &count, &error) != LDS_OK)
        fail_msg("%s", error.message);
    assert_memory_equal(made_series(&read[0], THD)->flag, made_series(&side[1], THD)->flag, POINTS * sizeof(unsigned));
    assert_int_equal(made_series(&read[0], THD)->flags, 0);
    compare(&side[0], &read[0], &c);
    const struct lds_axis_change *axis = lds_compared_axis(&c.channel[0], THD);
    for (size_t i = 0; i < axis->points; i++) { /* the true change is 20 dB */
        const struct lds_axis_span *p = &axis->point[i];
        bool hidden = made_series(&side[1], THD)->flag[i] & LDS_FLAG_CHAIN_LIMITED;
        if (isnan(p->low) != hidden || !(hidden || p->low < -20.0) || !(p->high > -20.0))
            fail_msg("seed %llu, %g Hz: %g (%g to %g)", (unsigned long long)SEED, p->x, p->change, p->low, p->high);
    }
    assert_true(isnan(axis->point[POINTS - 1].low) && axis->point[POINTS - 1].word == LDS_LOWER);
    assert_int_equal(lds_comparison_json(&c, path, &error), LDS_OK);
    json_t *root = load(path), *channel = json_array_get(json_object_get(root, "channels"), 0);
    json_t *flags = json_object_get(json_object_get(json_object_get(channel, "series"), THD), "row_flags");
    assert_int_equal(json_array_size(flags), POINTS);
    assert_int_equal(json_array_size(json_array_get(flags, 0)), 0);
    assert_string_equal(json_string_value(json_array_get(json_array_get(flags, POINTS - 1), 1)), "chain-limited");
    json_decref(root);
    unlink(path);
    rmdir(folder);
    lds_comparison_free(&c);
    lds_measurement_free(&read[0]);
    free(read);
    lds_measurement_free(&side[0]);
    lds_measurement_free(&side[1]);
    lds_measurement_free(&chain);
}

/* A pair's series is compared with that of the chain's pair. */
static void test_pair(void **state)
{
    (void)state;
    struct lds_measurement m[2];
    for (int i = 0; i < 2; i++) {
        made_capture(&m[i], i ? "loopback.wav" : "amplifier.wav", 2);
        m[i].pairs = 1;
        m[i].pair = calloc(1, sizeof *m[i].pair);
        m[i].pair[0].channels[0] = 1;
        m[i].pair[0].channels[1] = 2;
        add(lds_pair_add_series(&m[i].pair[0], THD), 1000.0, i ? -85.0 : -80.0);
    }
    apply(&m[0], &m[1], 1);
    assert_int_equal(m[0].pair[0].series[0].flag[0], HIDDEN);
    assert_int_equal(m[0].pair[0].series[0].flags, 0);
    lds_measurement_free(&m[0]);
    lds_measurement_free(&m[1]);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_points),
        cmocka_unit_test(test_below_the_chains_floor),
        cmocka_unit_test(test_not_measured),
        cmocka_unit_test(test_floor),
        cmocka_unit_test(test_pair),
        cmocka_unit_test(test_change_of_floor),
        cmocka_unit_test(test_change_of_points),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
