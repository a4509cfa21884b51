/* The slope of a straight line through points in decibels. */
#ifndef LDS_MEASURE_POWER_SLOPE_H
#define LDS_MEASURE_POWER_SLOPE_H

#include <stdbool.h>
#include <stddef.h>

struct lds_slope_point {
    double x, y, u; /* dB; u: standard uncertainty of y, > 0 */
};

struct lds_slope {
    double value, u, dof; /* dB/dB */
};

/* Weighted least squares; where the points scatter more than their uncertainties allow, that scatter counts. false:
 * fewer than 3 points, or less than 3 dB of x. */
bool lds_slope_fit(const struct lds_slope_point *point, size_t n, struct lds_slope *slope);

#endif
