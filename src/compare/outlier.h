/* The one of several values that stands apart. */
#ifndef LDS_COMPARE_OUTLIER_H
#define LDS_COMPARE_OUTLIER_H

#include <stddef.h>

struct lds_outlier {
    int which;    /* the value farthest from the others; -1: too few */
    double apart; /* it less the median of the others */
    double p;     /* of one so far off among values of one normal distribution */
};

/* NAN values are passed over. u_least: standard uncertainty of each value, below which no spread is believed. Needs
 * four values. */
void lds_outlier_find(const double *value, size_t count, double u_least, struct lds_outlier *outlier);

#endif
