#include "measure/statistics/median.h"

#include <math.h>

/* Hoare 1961, algorithm 65 (FIND), with a partition without branches: on random values mispredicted branches cost more
 * than everything else, and made GSL's median 6 % of a whole measurement. */

static double middle_of_three(double a, double b, double c)
{
    double low = a < b ? a : b, high = a < b ? b : a;
    return c < low ? low : c > high ? high : c;
}

/* Moves values less than the pivot to the front of x[0..n); returns how many. */
static size_t less_first(double *x, size_t n, double pivot)
{
    size_t less = 0;
    for (size_t i = 0; i < n; i++) {
        double value = x[i];
        x[i] = x[less];
        x[less] = value;
        less += value < pivot;
    }
    return less;
}

static size_t not_greater_first(double *x, size_t n, double pivot)
{
    size_t count = 0;
    for (size_t i = 0; i < n; i++) {
        double value = x[i];
        x[i] = x[count];
        x[count] = value;
        count += value <= pivot;
    }
    return count;
}

/* Moves numbers to the front and NANs behind them; returns how many numbers there are. */
static size_t numbers_first(double *x, size_t n)
{
    size_t count = 0;
    for (size_t i = 0; i < n; i++) {
        double value = x[i];
        x[i] = x[count];
        x[count] = value;
        count += isnan(value) ? 0 : 1;
    }
    return count;
}

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
        if (isnan(pivot)) { /* compares with nothing, so nothing was partitioned */
            n = numbers_first(x, n);
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
