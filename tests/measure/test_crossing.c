/* Where a curve over power goes above a limit for good, against straight lines whose crossing is known. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include "constants.h"
#include "measure/power/crossing.h"

enum { N = 6 };

static enum lds_crossing_kind find(const double y[N], double over, struct lds_crossing *crossing)
{
    struct lds_crossing_point point[N];
    for (size_t i = 0; i < N; i++)
        point[i] = (struct lds_crossing_point){.x = (double)i, .y = y[i], .u = 0.01};
    return lds_crossing_find(point, N, over, crossing);
}

static void test_straight_line(void **state)
{
    (void)state;
    struct lds_crossing crossing;
    const double y[N] = {-60, -58, -56, -54, -52, -50};
    assert_int_equal(find(y, -53.0, &crossing), LDS_CROSSED);
    assert_true(fabs(crossing.value - (3.5)) < 1e-12);
    /* Half of each point's error counts, and a slope of 2 divides it. */
    const double half = LDS_COVERAGE * hypot(0.5 * 0.01, 0.5 * 0.01) / 2.0;
    assert_true(fabs(crossing.low - (3.5 - half)) < 1e-12);
    assert_true(fabs(crossing.high - (3.5 + half)) < 1e-12);
    assert_int_equal(crossing.below, 3);
}

/* Noise or crossover distortion may put lower levels over the limit too: only the last crossing counts. */
static void test_for_good(void **state)
{
    (void)state;
    struct lds_crossing crossing;
    const double y[N] = {-40, -60, -60, -60, -50, -30};
    assert_int_equal(find(y, -40.0, &crossing), LDS_CROSSED);
    assert_true(fabs(crossing.value - (4.5)) < 1e-12);
    assert_true(crossing.low <= 4.5 && crossing.high >= 4.5);
}

static void test_no_crossing(void **state)
{
    (void)state;
    struct lds_crossing crossing;
    const double y[N] = {-60, -50, -40, -50, -60, -70};
    assert_int_equal(find(y, -30.0, &crossing), LDS_NEVER_OVER);
    assert_int_equal(find(y, -45.0, &crossing), LDS_OVER_BELOW);
    assert_int_equal(find(y, -80.0, &crossing), LDS_ALWAYS_OVER);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_straight_line),
        cmocka_unit_test(test_for_good),
        cmocka_unit_test(test_no_crossing),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
