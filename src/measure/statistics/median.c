#include "measure/statistics/median.h"

#include <math.h>

/* Hoare 1961, algorithm 65 (FIND), with a partition without branches: on random values mispredicted branches cost more
 * than everything else, and made GSL's median 6 % of a whole measurement. */

static double middle_of_three(double a, double b, double c)
{
    double low = a < b ? a : b, high = a < b ? b : a;
    return c < low ? low : c > high ? high : c;
}

/* A function that moves the values for which the condition is true to the front of x[0..n) and returns how many. */
#define MOVER(name, condition)                                                                                         \
    static size_t name(double *x, size_t n, double pivot)                                                              \
    {                                                                                                                  \
        size_t count = 0;                                                                                              \
        (void)pivot;                                                                                                   \
        for (size_t i = 0; i < n; i++) {                                                                               \
            double value = x[i];                                                                                       \
            x[i] = x[count];                                                                                           \
            x[count] = value;                                                                                          \
            count += (condition) ? 1 : 0;                                                                              \
        }                                                                                                              \
        return count;                                                                                                  \
    }
MOVER(less_first, value < pivot)
MOVER(not_greater_first, value <= pivot)
MOVER(numbers_first, !isnan(value))

double lds_smallest(double *x, size_t n, size_t k)
{
    for (;;) {
        double pivot = middle_of_three(x[0], x[n / 2], x[n - 1]);
        size_t less = less_first(x, n, pivot);
        if (k < less) {
            n = less;
            continue;
        }
        size_t same = not_greater_first(x + less, n - less, pivot);
        if (k < less + same)
            return pivot;
        if (isnan(pivot)) { /* comparisons with it are false, so nothing was partitioned */
            n = numbers_first(x, n, pivot);
            if (k >= n)
                return NAN;
            continue;
        }
        x += less + same;
        n -= less + same;
        k -= less + same;
    }
}

double lds_median(double *x, size_t n)
{
    size_t k = n / 2;
    double upper = lds_smallest(x, n, k);
    if (n % 2)
        return upper;
    double lower = x[0];
    for (size_t i = 1; i < k; i++)
        lower = x[i] > lower ? x[i] : lower;
    return 0.5 * (lower + upper);
}
