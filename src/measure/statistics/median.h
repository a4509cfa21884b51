/* The median of a few hundred values, taken some thousands of times a channel. */
#ifndef LDS_MEASURE_STATISTICS_MEDIAN_H
#define LDS_MEASURE_STATISTICS_MEDIAN_H

#include <stddef.h>

/* The median of n >= 1 values; changes their order. For an even number, the mean of the middle two. A NAN counts as
 * larger than any number. */
double lds_median(double *x, size_t n);

/* The k-th smallest (from 0) of n > k values. It is then at x[k], nothing greater before it and nothing smaller after.
 */
double lds_smallest(double *x, size_t n, size_t k);

#endif
