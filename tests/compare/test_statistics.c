/* The statistics against published examples and scipy. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "compare/fact.h"
#include "compare/outlier.h"
#include "compare/statistics.h"
#include "simulate/check.h"
#include "simulate/random.h"

/* The fifteen p-values of a myocardial infarction trial in Benjamini and Hochberg (1995), J. R. Statist. Soc. B 57,
 * 4.1. Holm by hand: (15 - i) p_i, never falling, at most 1; at 5 % the first three are rejected, as the paper says of
 * the procedures that control the familywise rate. */
static void test_holm(void **state)
{
    (void)state;
    static const double p[15] = {0.0095, 0.0001, 0.0344, 0.0004, 0.0019, 0.3240, 0.0201, 0.0278,
                                 0.4262, 0.0298, 1.0000, 0.0459, 0.5719, 0.7590, 0.6528};
    static const double expected[15] = {0.114, 0.0015, 0.278, 0.0056, 0.0247, 1.0, 0.2211, 0.278,
                                        1.0,   0.278,  1.0,   0.3213, 1.0,    1.0, 1.0};
    double adjusted[15];
    int rejected = 0;
    assert_true(lds_holm(p, adjusted, 15));
    for (int i = 0; i < 15; i++) {
        check_close(adjusted[i], expected[i], 1e-12);
        rejected += adjusted[i] < 0.05;
    }
    assert_int_equal(rejected, 3);
}

static void test_holm_passes_over_unknown(void **state)
{
    (void)state;
    const double p[4] = {NAN, 0.01, NAN, 0.2};
    double adjusted[4];
    assert_true(lds_holm(p, adjusted, 4));
    assert_true(isnan(adjusted[0]) && isnan(adjusted[2]));
    check_close(adjusted[1], 0.02, 1e-15);
    check_close(adjusted[3], 0.2, 1e-15);
    assert_true(lds_holm(NULL, NULL, 0));
}

/* scipy 1.10.1: 2 stats.t.sf(z, dof), 2 stats.norm.sf(z). */
static void test_t(void **state)
{
    (void)state;
    static const double table[][3] = {
        {2.0, 3, 0.1393259685588431},     {4.2, 3, 0.024632078176939246},    {2.5, 7.5, 0.038820258273625514},
        {8.0, 6, 0.00020346450207905071}, {3.9, 1e9, 9.619269431460603e-05}, {6.5, INFINITY, 8.032001167718176e-11},
        {-2.0, 3, 0.1393259685588431},
    };
    for (size_t i = 0; i < sizeof table / sizeof table[0]; i++)
        check_close(lds_two_sided_p(table[i][0], table[i][1]) / table[i][2], 1.0, 1e-6);
}

/* scipy 1.10.1: 2 min(stats.f.cdf, stats.f.sf). If both degrees of freedom are over 1000 the cube root is used. */
static void test_f(void **state)
{
    (void)state;
    static const double table[][5] = {
        {1.5, 30, 40, 0.2292443671777468, 1e-9},       {0.4, 12, 60, 0.08358067886966716, 1e-9},
        {2.2, 120, 118, 2.308739704005773e-05, 1e-9},  {1.04, 5000, 3000, 0.23166136413813324, 1e-3},
        {1.2, 2000, 5000, 7.84811325476261e-07, 1e-2}, {1.6, 40, 4000, 0.019549911907886353, 1e-9},
    };
    for (size_t i = 0; i < sizeof table / sizeof table[0]; i++)
        check_close(lds_variance_ratio_p(table[i][0], table[i][1], table[i][2]) / table[i][3], 1.0, table[i][4]);
    assert_true(isnan(lds_variance_ratio_p(1.0, 0.0, 5.0)));
}

static void pool_values(const double *value, int count, double u, struct lds_pooled *pooled)
{
    struct lds_reading reading[8];
    for (int i = 0; i < count; i++)
        reading[i] = (struct lds_reading){
            .value = value[i], .below = 1.96 * u, .above = 1.96 * u, .u = u, .dof = INFINITY, .limit = NAN};
    assert_true(lds_pool(reading, count, pooled));
}

/* scipy 1.10.1: stats.ttest_ind(after, before, equal_var=False), the interval from stats.t.ppf at the same degrees of
 * freedom. */
static void test_welch(void **state)
{
    (void)state;
    static const double before[4] = {10.1, 10.4, 9.8, 10.3}, after[3] = {10.9, 11.6, 10.7};
    struct lds_pooled b, a;
    struct lds_delta delta;
    pool_values(before, 4, 1e-6, &b);
    pool_values(after, 3, 1e-6, &a);
    lds_delta_find(&b, &a, (struct lds_delta_way){.from_repeats = true, .u_rep = 99.0}, &delta);
    check_close(delta.change, 0.9166666666666679, 1e-9);
    check_close(delta.dof, 2.9424197663488645, 1e-9);
    check_close(delta.low, -0.05909710210146568, 1e-6);
    check_close(delta.high, 1.8924304354348014, 1e-6);
    check_close(delta.p, 0.058047675098055224, 1e-7);
}

/* Repeats that agree by chance give no interval narrower than the captures' own. */
static void test_welch_is_never_narrower(void **state)
{
    (void)state;
    static const double before[4] = {10.0, 10.0, 10.0, 10.0}, after[4] = {10.1, 10.1, 10.1, 10.1};
    struct lds_pooled b, a;
    struct lds_delta delta;
    pool_values(before, 4, 0.2, &b);
    pool_values(after, 4, 0.2, &a);
    lds_delta_find(&b, &a, (struct lds_delta_way){.from_repeats = true}, &delta);
    check_close(delta.u, 0.2 * sqrt(0.5), 1e-12);
    assert_true(delta.high - delta.low >= 2.0 * 1.96 * delta.u);
}

/* Hidden after: the change is open below, and p is that of the known end. A coherent chain of the figure's own size
 * leaves an open lower limit and a u that is its upper half: neither may weaken what is known. */
static void test_end_that_is_known(void **state)
{
    (void)state;
    const double after_up = 3.0;
    struct lds_reading before = {.value = 0.0, .below = 0.2, .above = 0.2, .u = 0.1, .dof = INFINITY, .limit = NAN};
    struct lds_reading after = {.value = -12.0,
                                .below = INFINITY,
                                .above = after_up,
                                .u = 6.0,
                                .dof = INFINITY,
                                .limit = NAN,
                                .flags = LDS_FLAG_CHAIN_LIMITED};
    struct lds_reading repeat[2][3] = {{before, before, before}, {after, after, after}};
    for (int repeats = 0; repeats < 2; repeats++) {
        struct lds_pooled b, a;
        struct lds_delta delta, other;
        struct lds_delta_way way = {.from_repeats = repeats};
        assert_true(lds_pool(repeat[0], repeats ? 3 : 1, &b) && lds_pool(repeat[1], repeats ? 3 : 1, &a));
        lds_delta_find(&b, &a, way, &delta);
        assert_true(isnan(delta.low));
        check_close(delta.high, -12.0 + hypot(after_up, 0.2), 1e-9);
        if (!repeats) /* z = 12/(3.007/1.96) = 7.82 */
            check_close(log10(delta.p), log10(5.3e-15), 0.05);
        assert_true(delta.p < (repeats ? 0.02 : 1e-14));
        lds_delta_find(&a, &b, way, &other); /* sides exchanged, and inverted */
        assert_true(isnan(other.high) && other.low == -delta.high && other.p == delta.p);
        way.inverted = true;
        lds_delta_find(&b, &a, way, &other); /* an open end towards no change shows none */
        assert_true(isnan(other.high) && other.p == 1.0);
    }
}

/* Newcombe (1998), Statistics in Medicine 17, 873-890, Table II, example (a), method 10 (from memory): 56/70 less 48/80
 * is 0.2 with the limits 0.0524 and 0.3339, squares of the distances to Wilson's limits added. */
static void wilson(double r, double n, struct lds_pooled *pooled)
{
    const double z = 1.959963984540054, p = r / n;
    double middle = (2.0 * r + z * z) / (2.0 * (n + z * z)),
           half = z * sqrt(z * z + 4.0 * r * (1.0 - p)) / (2.0 * (n + z * z));
    struct lds_reading reading = {
        .value = p, .below = p - middle + half, .above = middle + half - p, .dof = INFINITY, .limit = NAN};
    assert_true(lds_pool(&reading, 1, pooled));
}

static void test_asymmetric_limits(void **state)
{
    (void)state;
    struct lds_pooled before, after;
    struct lds_delta delta;
    wilson(48.0, 80.0, &before);
    wilson(56.0, 70.0, &after);
    lds_delta_find(&before, &after, (struct lds_delta_way){.shared_bench = true}, &delta);
    check_close(delta.change, 0.2, 1e-12);
    check_close(delta.low, 0.0524, 5e-5);
    check_close(delta.high, 0.3339, 5e-5);
}

/* Upper limit h of a line that is not seen: how much higher it is for k standard deviations. scipy 1.10.1:
 * noncentrality at which stats.ncx2.cdf(2 raw, 2) is stats.norm.sf(k), as an amplitude in units of the noise; raw power
 * 1, 4 and 13 times the mean of the noise. The rule of delta.c must not be below any of them. */
static void test_unseen_limits(void **state)
{
    (void)state;
    static const double k[5] = {1.959963984540054, 3.0, 4.0, 4.5, 5.0};
    static const double limit[3][5] = {
        {2.2145056591099377, 2.9787297256275873, 3.7041187514438803, 4.064810628555029, 4.424560821638365},
        {3.2880658737713033, 4.034098885848137, 4.749013617622079, 5.105852790767719, 5.462369552736993},
        {4.932121822913726, 5.671820824278729, 6.382365127671892, 6.7374411517414075, 7.092407384931997}};
    for (int raw = 0; raw < 3; raw++)
        for (int i = 1; i < 5; i++) {
            /* A visible line without scatter of its own: it exceeds the limit at the k whose limit it equals. */
            struct lds_reading seen = {.value = 20.0 * log10(limit[raw][i]), .dof = INFINITY, .limit = NAN};
            struct lds_reading unseen = {.value = NAN, .dof = INFINITY, .limit = 20.0 * log10(limit[raw][0])};
            struct lds_pooled before, after;
            struct lds_delta delta;
            lds_pool(&unseen, 1, &before);
            lds_pool(&seen, 1, &after);
            lds_delta_find(&before, &after, (struct lds_delta_way){0}, &delta);
            assert_true(delta.p >= lds_two_sided_p(k[i], INFINITY));
            assert_true(isnan(delta.change) && isnan(delta.high) && delta.low > 0.0);
            lds_delta_find(&after, &before, (struct lds_delta_way){0}, &delta);
            assert_true(isnan(delta.change) && isnan(delta.low) && delta.high < 0.0);
        }
}

/* If both sides share a bench its part cancels; else it counts on both. Re-cabling counts once per capture. */
static void test_what_is_shared(void **state)
{
    (void)state;
    struct lds_reading reading = {.value = 0.0, .below = 0.0, .above = 0.0, .u = 0.0, .u_bench = 0.3, .dof = INFINITY};
    struct lds_pooled side;
    struct lds_delta delta;
    lds_pool(&reading, 1, &side);
    lds_delta_find(&side, &side, (struct lds_delta_way){.shared_bench = true, .u_rep = 0.1}, &delta);
    check_close(delta.u, 0.1 * sqrt(2.0), 1e-12);
    check_close(delta.high, 1.959963984540054 * 0.1 * sqrt(2.0), 1e-12);
    lds_delta_find(&side, &side, (struct lds_delta_way){.u_rep = 0.1}, &delta);
    check_close(delta.u, sqrt(2.0 * 0.01 + 2.0 * 0.09), 1e-12);
}

/* scipy 1.10.1: 6 x 2 stats.t.sf(T, 4) of the last value against the mean and standard deviation of the others. */
static void test_outlier(void **state)
{
    (void)state;
    static const double value[7] = {1.0, 1.2, 0.9, NAN, 1.1, 1.05, 3.0};
    struct lds_outlier outlier;
    lds_outlier_find(value, 7, 0.0, &outlier);
    assert_int_equal(outlier.which, 6);
    check_close(outlier.p / 0.0005457713810386045, 1.0, 1e-6);
    check_close(outlier.apart, 3.0 - 1.05, 1e-12);
    lds_outlier_find(value, 7, 1.0, &outlier); /* the values themselves are no more accurate */
    assert_true(outlier.p > 0.1);
    lds_outlier_find(value, 4, 0.0, &outlier); /* three values */
    assert_int_equal(outlier.which, -1);
}

/* Two far off among nine do not hide each other. */
static void test_outliers_do_not_hide(void **state)
{
    (void)state;
    static const double value[9] = {1.0, 1.2, 0.9, 1.1, 1.05, 0.95, 1.15, 8.0, 9.0};
    struct lds_outlier outlier;
    lds_outlier_find(value, 9, 0.0, &outlier);
    assert_int_equal(outlier.which, 8);
    assert_true(outlier.p < 1e-5);
}

/* Normal values: the chance that any is reported at 5 % is at most 5 %; four standard errors are allowed. */
static void test_outlier_rate(void **state)
{
    (void)state;
    enum { ROUNDS = 20000 };
    static const int sizes[3] = {4, 6, 12};
    struct sim_random random;
    for (int s = 0; s < 3; s++) {
        int called = 0;
        sim_random_seed(&random, 77);
        for (int i = 0; i < ROUNDS; i++) {
            double value[12];
            struct lds_outlier outlier;
            for (int k = 0; k < sizes[s]; k++)
                value[k] = sim_random_gaussian(&random);
            lds_outlier_find(value, (size_t)sizes[s], 0.0, &outlier);
            called += outlier.p < 0.05;
        }
        if (called > ROUNDS * 0.05 + 4.0 * sqrt(ROUNDS * 0.05 * 0.95))
            fail_msg("seed 77: %d of %d called among %d values", called, ROUNDS, sizes[s]);
    }
}

/* The deviations of 1, 2, 4, 8 from their median of 3 are 2, 1, 1, 5: their median is 1.5. */
static void test_middle(void **state)
{
    (void)state;
    double four[] = {8.0, 1.0, 4.0, 2.0}, one[] = {-5.0}, median, spread;
    lds_middle_of(four, 4, &median, &spread);
    assert_true(median == 3.0);
    assert_true(fabs(spread - 1.4826 * 1.5) < 1e-12);
    lds_middle_of(one, 1, &median, &spread);
    assert_true(median == -5.0);
    assert_true(isnan(spread)); /* of a single value it is unknown, not 0 */
    lds_middle_of(one, 0, &median, &spread);
    assert_true(isnan(median) && isnan(spread));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_holm),
        cmocka_unit_test(test_holm_passes_over_unknown),
        cmocka_unit_test(test_t),
        cmocka_unit_test(test_f),
        cmocka_unit_test(test_welch),
        cmocka_unit_test(test_welch_is_never_narrower),
        cmocka_unit_test(test_end_that_is_known),
        cmocka_unit_test(test_asymmetric_limits),
        cmocka_unit_test(test_unseen_limits),
        cmocka_unit_test(test_what_is_shared),
        cmocka_unit_test(test_middle),
        cmocka_unit_test(test_outlier),
        cmocka_unit_test(test_outliers_do_not_hide),
        cmocka_unit_test(test_outlier_rate),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
