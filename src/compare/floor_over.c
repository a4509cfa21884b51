#include "compare/floor_over.h"

#include <math.h>

static const double EDGE_SAME = 1e-6; /* relative */
static const double STEEPEST = 4.0;   /* steeper slopes of S than f^+-4 are the scatter of few degrees of freedom */

static bool same_edge(double a, double b)
{
    return fabs(a - b) <= EDGE_SAME * b;
}

/* Exponent of the density around band i, from the bands on both sides of it. */
static double slope_about(const struct lds_series *floor, size_t i)
{
    size_t below = i > 0 ? i - 1 : i, above = i + 1 < floor->rows ? i + 1 : i;
    double low = lds_series_value(floor, below, LDS_FLOOR_MEAN), high = lds_series_value(floor, above, LDS_FLOOR_MEAN);
    double low_hz = lds_series_value(floor, below, LDS_FLOOR_HZ),
           high_hz = lds_series_value(floor, above, LDS_FLOOR_HZ);
    if (!(low > 0.0) || !(high > 0.0) || high_hz <= low_hz)
        return 0.0;
    double slope = 2.0 * log(high / low) / log(high_hz / low_hz);
    return fmax(-STEEPEST, fmin(STEEPEST, slope));
}

static double integral(double low_hz, double high_hz, double slope)
{
    double power = slope + 1.0;
    if (fabs(power) < 1e-6)
        return log(high_hz / low_hz);
    return (pow(high_hz, power) - pow(low_hz, power)) / power;
}

bool lds_floor_over(const struct lds_series *floor, double low_hz, double high_hz, double *mean, double *dof)
{
    double covered = 0.0, power = 0.0, variance = 0.0;
    for (size_t i = 0; i < floor->rows; i++) {
        double from_hz = lds_series_value(floor, i, LDS_FLOOR_LOW_HZ),
               to_hz = lds_series_value(floor, i, LDS_FLOOR_HIGH_HZ);
        double low = fmax(low_hz, from_hz), high = fmin(high_hz, to_hz);
        if (high <= low * (1.0 + EDGE_SAME))
            continue;
        *mean = lds_series_value(floor, i, LDS_FLOOR_MEAN);
        *dof = lds_series_value(floor, i, LDS_FLOOR_DOF);
        if (!(*dof > 0.0) || !(*mean > 0.0))
            return false;
        if (same_edge(from_hz, low_hz) && same_edge(to_hz, high_hz))
            return true;
        double slope = slope_about(floor, i);
        double share = integral(low, high, slope) / integral(from_hz, to_hz, slope);
        double whole = *mean * *mean * (to_hz - from_hz);
        power += share * whole;
        variance += share * 2.0 * whole * whole / *dof; /* share of its power and of its degrees of freedom */
        covered += high - low;
    }
    if (!(covered >= (high_hz - low_hz) * (1.0 - 1e-4)))
        return false;
    *mean = sqrt(power / (high_hz - low_hz));
    *dof = 2.0 * power * power / variance;
    return true;
}
