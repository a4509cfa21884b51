#include "measure/power/slope.h"

#include <math.h>

#include "measure/statistics/interval.h"

enum { LEAST = 3 };
static const double UNLIKELY = 0.99, LEAST_DB = 3.0,
                    OWN_U = 0.005; /* dB: the most that leaks from one line into another */

bool lds_slope_fit(const struct lds_slope_point *point, size_t n, struct lds_slope *slope)
{
    double weight = 0.0, x = 0.0, y = 0.0, xx = 0.0, xy = 0.0, left = 0.0, low = INFINITY, high = -INFINITY;
    for (size_t i = 0; i < n; i++) {
        const double w = 1.0 / (point[i].u * point[i].u + OWN_U * OWN_U);
        weight += w;
        x += w * point[i].x;
        y += w * point[i].y;
        low = fmin(low, point[i].x);
        high = fmax(high, point[i].x);
    }
    if (n < LEAST || !(high - low >= LEAST_DB))
        return false;
    x /= weight;
    y /= weight;
    for (size_t i = 0; i < n; i++) {
        const double w = 1.0 / (point[i].u * point[i].u + OWN_U * OWN_U);
        xx += w * (point[i].x - x) * (point[i].x - x);
        xy += w * (point[i].x - x) * (point[i].y - y);
    }
    slope->value = xy / xx;
    for (size_t i = 0; i < n; i++) {
        const double off = point[i].y - y - slope->value * (point[i].x - x);
        left += off * off / (point[i].u * point[i].u + OWN_U * OWN_U);
    }
    const double dof = (double)(n - 2);
    const bool scatters = left > dof * lds_chi_square_quantile(UNLIKELY, dof);
    slope->dof = scatters ? dof : (double)INFINITY;
    slope->u = sqrt((scatters ? left / dof : 1.0) / xx);
    return true;
}
