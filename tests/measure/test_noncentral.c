/* Noncentral chi-square: distribution and limits against scipy. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include "measure/statistics/noncentral.h"

/* scipy 1.10.1, scipy.stats.ncx2.cdf(x, dof, lambda). */
static void test_distribution(void **state)
{
    (void)state;
    static const double TABLE[][4] = {
        {10, 2, 5, 0.7686915506598637},      {3, 2, 20, 0.0017639826701318939},   {60, 10, 40, 0.7817496552136097},
        {2500, 2, 2400, 0.8413694394719015}, {3900, 4, 3800, 0.7827937841729519}, {1e5, 2, 100300, 0.3171916648459783},
        {500, 40, 400, 0.9249213543816561},
    };
    for (size_t i = 0; i < sizeof TABLE / sizeof *TABLE; i++) {
        const double *row = TABLE[i];
        /* Sankaran's form from lambda = 400 + 5 dof on, the exact sum below */
        const double tolerance = row[2] > 400.0 + 5.0 * row[1] ? 2e-4 : 1e-9;
        if (fabs(lds_noncentral_cdf(row[0], row[1], row[2]) - row[3]) > tolerance)
            fail_msg("F(%g; %g, %g) is %.12g, not %.12g", row[0], row[1], row[2],
                     lds_noncentral_cdf(row[0], row[1], row[2]), row[3]);
    }
    assert_true(lds_noncentral_cdf(0.0, 2.0, 3.0) == 0.0);
    assert_true(fabs(lds_noncentral_cdf(2.0, 2.0, 0.0) - (1.0 - exp(-1.0))) < 1e-12);
}

/* x, dof, and the lambda at which scipy.stats.ncx2.cdf is 0.975 and 0.025 (scipy.optimize.brentq). */
static void test_limits(void **state)
{
    (void)state;
    static const double TABLE[][4] = {
        {8, 2, 0.17490484845477405, 21.62275438051219},   {20, 2, 5.5626244276527395, 40.17121944465607},
        {100, 2, 63.74557759840919, 141.94694991512245},  {1000, 2, 878.9139349486533, 1126.7699312126906},
        {8000, 2, 7652.243459149493, 8353.439576907353},  {1e6, 2, 996082.9144701979, 1003922.7684484035},
        {30, 10, 5.255542130688849, 44.77487616789737},   {500, 10, 407.59353013057085, 582.1066240368444},
        {900, 400, 401.37396333026794, 608.849327449846}, {6000, 400, 5306.328776447692, 5903.419304023961},
    };
    for (size_t i = 0; i < sizeof TABLE / sizeof *TABLE; i++) {
        const double *row = TABLE[i], noise = 3e-9;
        double low, high;
        lds_noncentral_limits(0.5 * row[0] * noise, noise, (int)(row[1] / 2.0), &low, &high);
        const double width = row[3] - row[2];
        if (fabs(2.0 * low / noise - row[2]) > 1e-4 * width || fabs(2.0 * high / noise - row[3]) > 1e-4 * width)
            fail_msg("x %g, dof %g: %.9g %.9g, not %.9g %.9g", row[0], row[1], 2.0 * low / noise, 2.0 * high / noise,
                     row[2], row[3]);
    }
}

static void test_noise_alone(void **state)
{
    (void)state;
    double low, high, at_mean;
    lds_noncentral_limits(0.01, 1.0, 1, &low, &high);
    assert_true(low == 0.0);
    lds_noncentral_limits(1.0, 1.0, 1, &low, &at_mean);
    assert_true(high == at_mean && high > 0.0);
    assert_true(fabs(lds_noncentral_chance(1.0, 1.0, 1) - exp(-1.0)) < 1e-12);
    /* far above: V +- 1.96 sqrt(n/2) */
    lds_noncentral_limits(1e12, 1.0, 1, &low, &high);
    assert_true(fabs(sqrt(high) - 1e6 - 1.959964 * M_SQRT1_2) < 1e-3);
    assert_true(fabs(sqrt(low) - 1e6 + 1.959964 * M_SQRT1_2) < 1e-3);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_distribution),
        cmocka_unit_test(test_limits),
        cmocka_unit_test(test_noise_alone),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
