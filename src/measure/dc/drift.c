#include "measure/dc/drift.h"

#include <complex.h>
#include <math.h>

enum { TOGETHER = 16, LEAST = 60, FIRST_BIN = 2, LAST_BIN = 6, SHARE = 16 };
/* The mean of five bins has ten degrees of freedom: white noise exceeds this in 3 % of all cases (chi-square). */
static const double MORE = 2.0;

/* Allan variance (IEEE 1139) for means over `together` samples, over all pairs of neighbouring means, times `together`:
 * for white noise this is the same for any `together`. */
static double allan(const double *x, size_t n, size_t together)
{
    double sum[2] = {0.0, 0.0}, square = 0.0;
    for (size_t i = 0; i < together; i++) {
        sum[0] += x[i];
        sum[1] += x[i + together];
    }
    size_t pairs = n - 2 * together + 1;
    for (size_t i = 0; i < pairs; i++) {
        double difference = (sum[1] - sum[0]) / (double)together;
        square += 0.5 * difference * difference;
        if (i + 1 == pairs)
            break;
        sum[0] += x[i + together] - x[i];
        sum[1] += x[i + 2 * together] - x[i + together];
    }
    return (double)together * square / (double)pairs;
}

/* Mean of the periodogram over a few of its lowest bins, without the first, of which a fit has taken most. */
static double slow_part(const double *x, size_t n)
{
    double sum = 0.0;
    for (int k = FIRST_BIN; k <= LAST_BIN; k++) {
        double complex step = cexp(-2.0 * M_PI * I * k / (double)n), turn = 1.0, line = 0.0;
        for (size_t i = 0; i < n; i++) {
            line += x[i] * turn;
            turn *= step;
        }
        sum += (creal(line) * creal(line) + cimag(line) * cimag(line)) / (double)n;
    }
    return sum / (LAST_BIN - FIRST_BIN + 1);
}

void lds_dc_drift_find(const double *x, size_t n, struct lds_dc_drift *drift)
{
    *drift = (struct lds_dc_drift){NAN, NAN, NAN};
    if (n < LEAST)
        return;
    drift->white = drift->slow = allan(x, n, TOGETHER);
    drift->dof = fmax(4.0, (double)n / (2.0 * TOGETHER));
    /* Movements on a scale between the shortest means and the whole. */
    for (size_t together = 2 * TOGETHER; together <= n / SHARE; together *= 2) {
        double middle = allan(x, n, together);
        if (middle > MORE * drift->white && middle > drift->slow) {
            drift->slow = middle;
            drift->dof = (double)n / (2.0 * (double)together);
        }
    }
    double low = slow_part(x, n);
    if (low <= MORE * drift->white)
        return;
    /* Extrapolated as 1/f, from the middle of those bins down to one period in the whole sequence. */
    double lowest = drift->white + (low - drift->white) * 0.5 * (FIRST_BIN + LAST_BIN);
    if (lowest <= drift->slow)
        return;
    drift->slow = lowest;
    drift->dof = 2.0 * (LAST_BIN - FIRST_BIN + 1);
}

double lds_dc_drift_mean_u(const struct lds_dc_drift *drift, double count, size_t n)
{
    double part = fmin(1.0, count / (double)n); /* the share of 1/f noise: a shorter mean depends on higher frequencies,
                                                   where there is less of it */
    return sqrt(fmax(0.0, drift->white + (drift->slow - drift->white) * part) / fmax(1.0, count));
}
