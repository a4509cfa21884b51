/* The median against GSL's. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>

#include <cmocka.h>
#include <gsl/gsl_sort_double.h>
#include <gsl/gsl_statistics_double.h>

#include "measure/statistics/median.h"
#include "simulate/random.h"

enum { MOST = 400 };

/* kind 0: all different; 1: many alike; 2: all alike; 3: rising; 4: falling */
static void fill(double *x, size_t n, int kind, struct sim_random *random)
{
    for (size_t i = 0; i < n; i++) {
        double value = sim_random_between(random, -1.0, 1.0);
        x[i] = kind == 0 ? value : kind == 1 ? (double)(int)(5.0 * value) : kind == 2 ? 0.25 : (double)i;
        x[i] = kind == 4 ? -x[i] : x[i];
    }
}

static void test_against_gsl(void **state)
{
    (void)state;
    struct sim_random random;
    sim_random_seed(&random, 5);
    double x[MOST], sorted[MOST];
    for (size_t n = 1; n <= MOST; n++)
        for (int kind = 0; kind < 5; kind++) {
            fill(x, n, kind, &random);
            for (size_t i = 0; i < n; i++)
                sorted[i] = x[i];
            gsl_sort(sorted, 1, n);
            double wanted = gsl_stats_median_from_sorted_data(sorted, 1, n), found = lds_median(x, n);
            if (found != wanted)
                fail_msg("%zu values of kind %d: %.17g, not %.17g", n, kind, found, wanted);
            gsl_sort(x, 1, n);
            assert_memory_equal(x, sorted, n * sizeof *x);
        }
}

/* However many NANs there are, it terminates, and the result is that of the numbers followed by NANs. */
static void test_no_numbers(void **state)
{
    (void)state;
    struct sim_random random;
    sim_random_seed(&random, 7);
    double x[MOST], number[MOST];
    for (int turn = 0; turn < 2000; turn++) {
        size_t n = 1 + (size_t)(sim_random_uniform(&random) * (MOST - 1)), numbers = 0;
        double share = sim_random_uniform(&random);
        for (size_t i = 0; i < n; i++) {
            x[i] = sim_random_uniform(&random) < share ? NAN : sim_random_gaussian(&random);
            if (!isnan(x[i]))
                number[numbers++] = x[i];
        }
        gsl_sort(number, 1, numbers);
        for (size_t i = numbers; i < n; i++)
            number[i] = NAN;
        double wanted = n % 2 ? number[n / 2] : 0.5 * (number[n / 2 - 1] + number[n / 2]), found = lds_median(x, n);
        if (found != wanted && !(isnan(found) && isnan(wanted)))
            fail_msg("turn %d, %zu numbers of %zu: %.17g, not %.17g", turn, numbers, n, found, wanted);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_against_gsl), cmocka_unit_test(test_no_numbers)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
