/* The one of several values that differs from the others. */
#ifndef LDS_COMPARE_OUTLIER_H
#define LDS_COMPARE_OUTLIER_H

#include <stddef.h>

struct lds_outlier {
    int which;    /* the value farthest from the others; -1: too few */
    double apart; /* its distance from the median of the others */
    double p;     /* probability of one this far off among values of one normal distribution */
};

/* NAN values are ignored. u_least: standard uncertainty of each value, as a lower limit of the spread. Needs four
 * values. */
void lds_outlier_find(const double *value, size_t count, double u_least, struct lds_outlier *outlier);

#endif
