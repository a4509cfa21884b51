/* Hum under a tone of 1000 Hz on a supply of 50 Hz: the tone is on order 20, its harmonics on 40 and 60. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdlib.h>

#include <cmocka.h>

#include "loadside/measurement.h"
#include "loadside/series.h"
#include "simulate/measured.h"
#include "simulate/signals.h"

enum { RATE = 24000, CAPTURES = 40, LAST = 60 };
static const double SECONDS = 4.0, DENSITY = 1e-8, LEVEL = 0.5;

/* Orders from 100 uV down to 1 uV at order 60, each changed by up to 3 dB. */
static double hum_level(int order, struct sim_random *random)
{
    return 100e-6 * pow(order, -1.125) * pow(10.0, sim_random_between(random, -3.0, 3.0) / 20.0);
}

struct truth {
    double relative[4]; /* of harmonics 2 and 3 */
    double thd, thd_n;
};

static double *make(unsigned seed, double hum, double wander_hz, struct truth *truth)
{
    const size_t n = (size_t)(SECONDS * RATE);
    struct sim_random random;
    sim_random_seed(&random, seed);
    double *x = sim_samples(n), square = 0.0;
    struct sim_mains mains = {.frequency_hz = 50.0 + sim_random_between(&random, -0.01, 0.01),
                              .wander_hz = wander_hz,
                              .wander_periods = 1.0,
                              .orders = LAST};
    for (int k = 1; k <= LAST && hum > 0.0; k++) {
        const double level = hum * hum_level(k, &random), phase = sim_random_between(&random, -M_PI, M_PI);
        square += level * level;
        mains.level[k] = level;
        mains.phase_rad[k] = phase;
    }
    if (hum > 0.0)
        sim_add_mains(x, n, RATE, &mains);
    struct sim_tone tone = {.frequency_hz = 1000.0, .level = LEVEL, .orders = 3};
    tone.relative[2] = truth->relative[2];
    tone.relative[3] = truth->relative[3];
    tone.relative_rad[2] = sim_random_between(&random, -M_PI, M_PI);
    sim_add_tone(x, n, RATE, &tone);
    sim_add_white(x, n, RATE, DENSITY, &random);
    truth->thd = sim_tone_thd_db(&tone, 3);
    square += DENSITY * DENSITY * (0.45 * RATE - 20.0) + LEVEL * LEVEL * pow(10.0, 0.1 * truth->thd);
    truth->thd_n = 10.0 * log10(square / (square + LEVEL * LEVEL));
    return x;
}

static size_t harmonic(const struct lds_series *lines, int order)
{
    size_t row = lds_series_row_of(lines, LDS_LINE_ORDER, order);
    if (row == lines->rows)
        fail_msg("no harmonic %d", order);
    return row;
}

enum { H2, H3, TONE, THD, THD_N, KINDS };
static const char *const NAME[KINDS] = {"harmonic 2", "harmonic 3", "tone.level", "thd", "thd_n"};

static bool holds(double low, double high, double truth)
{
    return (isnan(low) || low <= truth) && truth <= high;
}

static void count(const struct lds_measurement *m, const struct truth *truth, bool hum, unsigned seed, int held[KINDS])
{
    const double value[KINDS] = {LEVEL * truth->relative[2], LEVEL * truth->relative[3], LEVEL, truth->thd,
                                 truth->thd_n};
    for (int i = 0; i < KINDS; i++) {
        const struct lds_series *lines = lds_channel_series(&m->channel[0], "harmonics");
        const struct lds_figure *figure = i <= H3 ? NULL : sim_figure(m, NAME[i]);
        assert_true(i <= H3 || figure);
        const size_t row = figure ? 0 : harmonic(lines, i - H2 + 2);
        const struct lds_cell level = lds_series_cell(lines, row, LDS_LINE_LEVEL);
        held[i] += figure ? holds(figure->low, figure->high, value[i]) : holds(level.low, level.high, value[i]);
        const bool flagged = (figure ? figure->flags : lines->flag[row]) & LDS_FLAG_NEAR_LINE;
        /* harmonic 3 is above the measured orders, and is flagged where hum matters to it */
        if (i == H3 ? flagged && !hum : flagged != hum)
            fail_msg("seed %u: %s is %sflagged", seed, NAME[i], flagged ? "" : "not ");
    }
}

static void coverage(double relative, double hum, double wander_hz)
{
    struct truth truth = {.relative = {0.0, 0.0, relative, 0.6 * relative}};
    struct lds_measure_options options;
    sim_options_init(&options);
    int held[KINDS] = {0};
    for (unsigned seed = 1; seed <= CAPTURES; seed++) {
        double *x = make(seed, hum, wander_hz, &truth);
        struct lds_measurement m;
        sim_measure(x, (size_t)(SECONDS * RATE), RATE, &options, &m);
        count(&m, &truth, hum > 0.0, seed, held);
        lds_measurement_free(&m);
        free(x);
    }
    /* of 40, 5 % are 2, standard deviation 1.4 */
    for (int i = 0; i < KINDS; i++) {
        if (held[i] < CAPTURES - 6)
            fail_msg("harmonics %g, hum %g: %d of %d limits of %s hold the truth", relative, hum, held[i], CAPTURES,
                     NAME[i]);
    }
}

static void test_weak_harmonics(void **state)
{
    (void)state;
    coverage(1e-6, 1.0, 0.0);
}

static void test_strong_harmonics(void **state)
{
    (void)state;
    coverage(1e-3, 1.0, 0.0);
}

static void test_wandering_hum(void **state)
{
    (void)state;
    coverage(1e-3, 1.0, 0.02);
}

/* Orders beside the tone keep their level; where the tone is locked to the mains they are marked as possible sidebands.
 * The sums include the orders under the tone and its second harmonic, too. */
static void check_orders(double mains_hz, bool in_step)
{
    static const char *const SUMS[] = {"mains.total", "mains.even", "mains.buzz"};
    const size_t n = (size_t)(SECONDS * RATE);
    double *x = sim_samples(n), sum[3] = {0.0};
    struct sim_random random;
    sim_random_seed(&random, 5);
    struct sim_mains mains = {.frequency_hz = mains_hz, .orders = 40};
    for (int k = 1; k <= 40; k++) {
        const double level = mains.level[k] = hum_level(k, &random);
        sum[0] += level * level;
        sum[1] += k % 2 ? 0.0 : level * level;
        sum[2] += k > 10 ? level * level : 0.0;
    }
    sim_add_mains(x, n, RATE, &mains);
    sim_add_tone(x, n, RATE, &(struct sim_tone){.frequency_hz = 1000.0, .level = LEVEL});
    sim_add_white(x, n, RATE, DENSITY, &random);
    struct lds_measurement m;
    sim_measure(x, n, RATE, NULL, &m);
    free(x);
    const struct lds_channel *channel = &m.channel[0];
    const struct lds_series *lines = lds_channel_series(channel, "mains");
    assert_int_equal(lines->rows, 40);
    for (int k = 17; k <= 23; k++) {
        const size_t row = (size_t)k - 1;
        const double level = lds_series_value(lines, row, LDS_LINE_LEVEL);
        assert_int_equal(lds_series_value(lines, row, LDS_LINE_ORDER), k);
        assert_int_equal((lines->flag[row] & LDS_FLAG_NEAR_LINE) != 0, in_step || k == 20);
        if (k != 20 && !(fabs(level / mains.level[k] - 1.0) < 0.02))
            fail_msg("order %d is %g, not %g", k, level, mains.level[k]);
        assert_true(k != 20 || isnan(level));
    }
    for (int i = 0; i < 3; i++) {
        const struct lds_figure *figure = sim_figure(&m, SUMS[i]);
        if (!figure || !holds(figure->low, figure->high, sqrt(sum[i])) || !(figure->flags & LDS_FLAG_NEAR_LINE))
            fail_msg("%s: not flagged, or its limits do not hold %g", SUMS[i], sqrt(sum[i]));
        assert_int_equal(figure->orders[1], 40);
    }
    lds_measurement_free(&m);
}

static void test_orders(void **state)
{
    (void)state;
    check_orders(50.0, true);
    check_orders(50.014, false);
}

/* A comb that ends beside the tone and is locked to it: the guess for the hidden orders must not let the orders that
 * are there, or those that are missing, dominate the sums. */
static void test_comb_that_ends(void **state)
{
    (void)state;
    static const char *const SUMS[] = {"mains.total", "mains.odd", "mains.even"};
    const size_t n = (size_t)(10.0 * RATE);
    struct sim_random random;
    sim_random_seed(&random, 77);
    double *x = sim_samples(n), square[3] = {0.0};
    struct sim_mains mains = {.frequency_hz = 50.0, .orders = 20};
    for (int k = 1; k <= 20; k++) {
        mains.level[k] = 4e-5 * pow(10.0, -1.5 * k / 20.0);
        mains.phase_rad[k] = sim_random_between(&random, -M_PI, M_PI);
        square[0] += mains.level[k] * mains.level[k];
        square[k % 2 ? 1 : 2] += mains.level[k] * mains.level[k];
    }
    sim_add_mains(x, n, RATE, &mains);
    sim_add_tone(x, n, RATE, &(struct sim_tone){.frequency_hz = 1000.0, .level = LEVEL});
    sim_add_white(x, n, RATE, DENSITY, &random);
    struct lds_measure_options options;
    struct lds_measurement m;
    sim_options_init(&options);
    sim_measure(x, n, RATE, &options, &m);
    free(x);
    for (int i = 0; i < 3; i++) {
        const struct lds_figure *figure = sim_figure(&m, SUMS[i]);
        const double truth = sqrt(square[i]);
        if (!(figure->low <= truth && truth <= figure->high && figure->high < 1.1 * truth &&
              figure->value > 0.9 * truth))
            fail_msg("%s is %g (%g to %g), not %g", SUMS[i], figure->value, figure->low, figure->high, truth);
    }
    lds_measurement_free(&m);
}

static void test_no_hum(void **state)
{
    (void)state;
    coverage(1e-6, 0.0, 0.0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_weak_harmonics), cmocka_unit_test(test_strong_harmonics),
        cmocka_unit_test(test_wandering_hum),  cmocka_unit_test(test_orders),
        cmocka_unit_test(test_comb_that_ends), cmocka_unit_test(test_no_hum),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
