/* The noise density along the frequency axis: where it rose or fell, and by how much, in noise. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>

#include <cmocka.h>

#include "compare/axis.h"
#include "compare/made.h"
#include "simulate/check.h"
#include "simulate/random.h"

static const uint64_t SEED = 20260902;
enum { BANDS = 60, PAIRS = 100 };

/* A floor of 60 bands from 10 Hz, each a chi-square estimate of that many degrees of freedom, `broad_db` higher
 * everywhere and `narrow_db` more in bands 20 to 24. */
static void make(struct lds_measurement *m, const char *file, double dof, double broad_db, double narrow_db,
                 struct sim_random *random)
{
    made_idle(m, file, 0.0, 0.0);
    for (int i = 0; i < BANDS; i++) {
        double low = 10.0 * pow(10.0, i * 0.05), high = low * pow(10.0, 0.05);
        double db = broad_db + (i >= 20 && i < 25 ? narrow_db : 0.0);
        double chance = pow(1.0 - 2.0 / (9.0 * dof) + sim_random_gaussian(random) * sqrt(2.0 / (9.0 * dof)), 3.0);
        double level = 1e-7 * pow(10.0, db / 20.0) * sqrt(chance); /* Wilson and Hilferty 1931 */
        made_band(m, low, high, level, dof);
    }
}

/* Compares one pair, with no scatter but that of the noise; made_idle's figures are the same on both sides. */
static void one_pair(double dof, double broad_db, double narrow_db, struct sim_random *random, struct lds_comparison *c)
{
    struct lds_measurement b, a;
    struct lds_compare_options options;
    struct lds_error error = {0};
    lds_compare_options_init(&options);
    options.repeat_none = true;
    make(&b, "before.wav", dof, 0.0, 0.0, random);
    make(&a, "after.wav", dof, broad_db, narrow_db, random);
    if (lds_compare((struct lds_side){&b, 1}, (struct lds_side){&a, 1}, &options, c, &error) != LDS_OK)
        fail_msg("%s", error.message);
    lds_measurement_free(&b);
    lds_measurement_free(&a);
}

/* A rise of 0.34 dB, less than the 0.5 dB that matters, does not count as worse, though single bands read more: their
 * standard deviation is 0.06, 0.14, 0.27 and 0.43 dB on each side. With the last, all bands together are known to 0.08
 * dB: they read more than 0.5 once in 44 times, and are not often shown to have changed. */
static void test_below_what_matters(void **state)
{
    (void)state;
    static const double dof[] = {10000.0, 2000.0, 500.0, 200.0};
    static const int most_worse[] = {0, 0, 0, 7}, least_whole[] = {95, 95, 95, 40};
    struct sim_random random;
    sim_random_seed(&random, SEED);
    for (size_t k = 0; k < sizeof dof / sizeof dof[0]; k++) {
        int worse = 0, slight = 0, whole = 0, held = 0;
        for (int n = 0; n < PAIRS; n++) {
            struct lds_comparison c;
            one_pair(dof[k], 0.34, 0.0, &random, &c);
            worse += c.worse;
            for (size_t i = 0; i < lds_compared_axis(&c.channel[0], "floor")->regions; i++) {
                const struct lds_axis_span *r = &lds_compared_axis(&c.channel[0], "floor")->region[i];
                slight += r->word == LDS_SLIGHTLY_HIGHER;
                if (r->from > 10.1 || r->to < 9000.0)
                    continue;
                whole++;
                held += r->low <= 0.34 && r->high >= 0.34;
            }
            lds_comparison_free(&c);
        }
        print_message("seed %llu, %g degrees of freedom: worse %d, slightly higher %d, whole axis %d, held %d of %d\n",
                      (unsigned long long)SEED, dof[k], worse, slight, whole, held, PAIRS);
        assert_true(worse <= most_worse[k]);
        assert_true(slight + worse >= least_whole[k] && whole >= least_whole[k] && held >= 0.89 * whole);
    }
}

static void test_nothing_changed(void **state)
{
    (void)state;
    struct sim_random random;
    int regions = 0;
    sim_random_seed(&random, SEED + 1);
    for (int n = 0; n < 2 * PAIRS; n++) {
        struct lds_comparison c;
        one_pair(n % 2 ? 2000.0 : 100.0, 0.0, 0.0, &random, &c);
        regions += lds_compared_axis(&c.channel[0], "floor")->regions > 0;
        lds_comparison_free(&c);
    }
    print_message("seed %llu: %d of %d with nothing changed\n", (unsigned long long)SEED + 1, regions, 2 * PAIRS);
    assert_true(regions <= 4); /* at most half of 1 %; 5 or more of 200 has a chance of 0.4 % */
}

/* A narrow rise that matters, within a slight rise along the whole axis: the two are separated, each with its own
 * word. */
static void test_narrow_within_broad(void **state)
{
    (void)state;
    struct sim_random random;
    int found = 0, held = 0;
    sim_random_seed(&random, SEED + 2);
    for (int n = 0; n < PAIRS; n++) {
        struct lds_comparison c;
        one_pair(2000.0, 0.3, 2.0, &random, &c);
        assert_true(c.worse);
        int higher = 0;
        for (size_t i = 0; i < lds_compared_axis(&c.channel[0], "floor")->regions; i++) {
            const struct lds_axis_span *r = &lds_compared_axis(&c.channel[0], "floor")->region[i];
            if (r->word != LDS_HIGHER)
                continue;
            higher++;
            if (fabs(r->from / 100.0 - 1.0) > 0.01 || fabs(r->to / 177.8 - 1.0) > 0.01)
                continue;
            found++;
            held += r->low <= 2.3 && r->high >= 2.3;
        }
        assert_int_equal(higher, 1);
        lds_comparison_free(&c);
    }
    print_message("seed %llu: found %d, held %d of %d\n", (unsigned long long)SEED + 2, found, held, PAIRS);
    assert_true(found >= 97 && held >= 90);
}

static void test_stretches(void **state)
{
    (void)state;
    static const double value[8] = {0.0, 0.1, -0.1, 3.0, 3.1, 0.0, 0.05, 0.0};
    struct lds_stretch stretch[8];
    for (size_t i = 0; i < 8; i++) /* known to 0.1 each; the last touches none */
        stretch[i] = (struct lds_stretch){i, i, value[i], 100.0, i > 0 && i < 7};
    assert_int_equal(lds_stretches_join(stretch, 8), 4);
    assert_true(stretch[0].first == 0 && stretch[0].last == 2 && stretch[1].first == 3 && stretch[1].last == 4);
    assert_true(stretch[2].first == 5 && stretch[2].last == 6 && stretch[3].first == 7);
    check_close(stretch[1].mean, 3.05, 1e-12);
    check_close(stretch[1].weight, 200.0, 1e-9);
    assert_int_equal(lds_stretches_join(stretch, 0), 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_stretches),
        cmocka_unit_test(test_below_what_matters),
        cmocka_unit_test(test_nothing_changed),
        cmocka_unit_test(test_narrow_within_broad),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
