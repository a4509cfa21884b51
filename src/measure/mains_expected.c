/* Hum to be expected on an order where it cannot be seen, from the orders that can. */
#include "measure/mains.h"

#include <math.h>

enum { NEAREST = 6, TREND_LEAST = 3 };
static const double STEEPEST = -6.0;     /* of power over order, as an exponent: 18 dB an octave */
static const double SCATTER_LEAST = 0.7; /* of ln power about the trend: 3 dB */

static bool serves(const struct lds_mains_result *mains, int k, int order)
{
    const struct lds_mains_order *o = &mains->order[k];
    return (k - order) % 2 == 0 && k != order && o->usable && !o->shared;
}

/* Exponent of power over order of the like orders that were detected: a straight line through the logarithms. */
static double trend(const struct lds_mains_result *mains, int order)
{
    double n = 0.0, sx = 0.0, sy = 0.0, sxx = 0.0, sxy = 0.0;
    for (int k = 1; k <= LDS_MAINS_ORDERS; k++) {
        if (!serves(mains, k, order) || !mains->order[k].detected || !(mains->order[k].power > 0.0))
            continue;
        const double x = log(k), y = log(mains->order[k].power);
        n += 1.0;
        sx += x;
        sy += y;
        sxx += x * x;
        sxy += x * y;
    }
    const double det = n * sxx - sx * sx;
    return n < TREND_LEAST || !(det > 0.0) ? 0.0 : fmin(0.0, fmax(STEEPEST, (n * sxy - sx * sy) / det));
}

/* The next order of those that serve, going away from `order`; 0 when there is none within reach. */
static int nearest(const struct lds_mains_result *mains, int order, const bool *taken)
{
    int best = 0;
    for (int k = 1; k <= LDS_MAINS_ORDERS; k++)
        if (serves(mains, k, order) && !taken[k] && (!best || fabs(k - order + 0.1) < fabs(best - order + 0.1)))
            best = k;
    return best;
}

void lds_mains_expect(const struct lds_mains_result *mains, int order, struct lds_mains_expected *expected)
{
    *expected = (struct lds_mains_expected){0};
    if (!mains->found || order < 1)
        return;
    const double slope = trend(mains, order);
    bool taken[LDS_MAINS_ORDERS + 1] = {false};
    double power[NEAREST] = {0.0}, square = 0.0, detected = 0.0;
    int used = 0;
    while (used < NEAREST) {
        const int k = nearest(mains, order, taken);
        if (!k)
            break;
        taken[k] = true;
        power[used] = fmax(0.0, mains->order[k].power) * pow((double)order / k, slope);
        expected->power += power[used++];
    }
    if (!(expected->power > 0.0))
        return;
    expected->power /= used;
    for (int i = 0; i < used; i++)
        if (power[i] > 0.0) {
            const double off = log(power[i] / expected->power);
            square += off * off;
            detected += 1.0;
        }
    const double margin = exp(2.0 * fmax(SCATTER_LEAST, sqrt(square / detected)));
    expected->low = expected->power / margin;
    expected->high = expected->power * margin;
}
