/* Where a curve over power, known at some points, goes above a value for good. */
#ifndef LDS_MEASURE_POWER_CROSSING_H
#define LDS_MEASURE_POWER_CROSSING_H

#include <stddef.h>

struct lds_crossing_point {
    double x, y, u; /* dB each; u: standard uncertainty of y */
};

enum lds_crossing_kind { LDS_CROSSED, LDS_ALWAYS_OVER, LDS_NEVER_OVER, LDS_OVER_BELOW /* but not at the last point */ };

struct lds_crossing {
    double value, low, high; /* of x, 95 % */
    size_t below;            /* the point before it */
};

/* The lowest x above which y stays over `over`, on the straight line between two points (log-log, as x and y are in
 * decibels). Its limits include the noise, and the bend of the curve, which lies between that line and the continuation
 * of its neighbours. x ascends; n >= 1. */
enum lds_crossing_kind lds_crossing_find(const struct lds_crossing_point *point, size_t n, double over,
                                         struct lds_crossing *crossing);

#endif
