#include "compare/floor_over.h"

#include <math.h>

static const double EDGE_SAME = 1e-6; /* relative */
static const double STEEPEST = 4.0;   /* slopes of S beyond f^+-4 are the scatter of few degrees of freedom */

static bool same_edge(double a, double b)
{
    return fabs(a - b) <= EDGE_SAME * b;
}

/* Exponent of the density about band i, from the bands on its two sides. */
static double slope_about(const struct lds_channel *channel, size_t i)
{
    const struct lds_floor_band *below = &channel->floor[i > 0 ? i - 1 : i];
    const struct lds_floor_band *above = &channel->floor[i + 1 < channel->floor_bands ? i + 1 : i];
    if (!(below->mean > 0.0) || !(above->mean > 0.0) || above->frequency_hz <= below->frequency_hz)
        return 0.0;
    double slope = 2.0 * log(above->mean / below->mean) / log(above->frequency_hz / below->frequency_hz);
    return fmax(-STEEPEST, fmin(STEEPEST, slope));
}

static double integral(double low_hz, double high_hz, double slope)
{
    double power = slope + 1.0;
    if (fabs(power) < 1e-6)
        return log(high_hz / low_hz);
    return (pow(high_hz, power) - pow(low_hz, power)) / power;
}

bool lds_floor_over(const struct lds_channel *channel, double low_hz, double high_hz, struct lds_floor_band *over)
{
    double covered = 0.0, power = 0.0, variance = 0.0;
    for (size_t i = 0; i < channel->floor_bands; i++) {
        const struct lds_floor_band *band = &channel->floor[i];
        double low = fmax(low_hz, band->low_hz), high = fmin(high_hz, band->high_hz);
        if (high <= low * (1.0 + EDGE_SAME))
            continue;
        if (!(band->dof > 0.0) || !(band->mean > 0.0))
            return false;
        if (same_edge(band->low_hz, low_hz) && same_edge(band->high_hz, high_hz)) {
            *over = *band;
            return true;
        }
        double slope = slope_about(channel, i);
        double share = integral(low, high, slope) / integral(band->low_hz, band->high_hz, slope);
        double whole = band->mean * band->mean * (band->high_hz - band->low_hz);
        power += share * whole;
        variance += share * 2.0 * whole * whole / band->dof; /* share of its power and of its degrees of freedom */
        covered += high - low;
    }
    if (!(covered >= (high_hz - low_hz) * (1.0 - 1e-4)))
        return false;
    double level = sqrt(power / (high_hz - low_hz));
    *over =
        (struct lds_floor_band){sqrt(low_hz * high_hz), low_hz, high_hz, level, level, 2.0 * power * power / variance};
    return true;
}
