/* The hum to expect on an order where it cannot be seen, from the orders where it can. */
#include "measure/mains/mains.h"

#include <gsl/gsl_fit.h>
#include <math.h>

enum { NEAREST = 6, TREND_LEAST = 3 };
static const double STEEPEST = -6.0;     /* exponent of power over order: 18 dB an octave */
static const double SCATTER_LEAST = 0.7; /* of ln power around the trend: 3 dB */

static bool serves(const struct lds_mains_result *mains, int k, int order)
{
    const struct lds_mains_order *o = &mains->order[k];
    return (k - order) % 2 == 0 && k != order && o->usable && !o->shared;
}

/* Exponent of power over order, from the detected orders of the same parity: a straight line through the logarithms. */
static double trend(const struct lds_mains_result *mains, int order)
{
    double x[LDS_MAINS_ORDERS], y[LDS_MAINS_ORDERS], level, exponent, variance[3], misfit;
    size_t n = 0;
    for (int k = 1; k <= LDS_MAINS_ORDERS; k++) {
        if (!serves(mains, k, order) || !mains->order[k].detected || !(mains->order[k].power > 0.0))
            continue;
        x[n] = log(k);
        y[n++] = log(mains->order[k].power);
    }
    if (n < TREND_LEAST)
        return 0.0;
    gsl_fit_linear(x, 1, y, 1, n, &level, &exponent, &variance[0], &variance[1], &variance[2], &misfit);
    return fmin(0.0, fmax(STEEPEST, exponent));
}

/* The next usable order, going away from `order`; 0 when there is none within reach. */
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
    double strongest = 0.0, sum = 0.0, squares = 0.0, detected = 0.0;
    int used = 0;
    for (; used < NEAREST; used++) {
        const int k = nearest(mains, order, taken);
        if (!k)
            break;
        taken[k] = true;
        const double power = fmax(0.0, mains->order[k].power) * pow((double)order / k, slope);
        expected->power += power;
        strongest = fmax(strongest, power);
        if (!mains->order[k].detected || !(power > 0.0))
            continue;
        detected += 1.0;
        sum += log(power);
        squares += log(power) * log(power);
    }
    if (!(expected->power > 0.0))
        return;
    expected->power /= used;
    /* Where the comb ends among the order's neighbours, the order may be as strong as the stronger of them, or absent.
     */
    const double scatter = detected > 1.0 ? sqrt(fmax(0.0, squares - sum * sum / detected) / (detected - 1.0)) : 0.0;
    const double margin = exp(2.0 * fmax(SCATTER_LEAST, scatter));
    const double middle = detected > 0.0 ? exp(sum / detected) : expected->power;
    expected->low = detected < used ? 0.0 : middle / margin;
    expected->high = fmax(strongest, middle * margin);
}
