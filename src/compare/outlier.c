#include "compare/outlier.h"

#include <math.h>
#include <stdlib.h>

#include "compare/statistics.h"

enum { FEWEST = 4 };

/* The value farthest from the mean of the others, in standard deviations of the others: t with n - 2 degrees of freedom
 * for one value chosen beforehand, n times its p for the farthest (Grubbs 1950; Cook and Weisberg 1982, 2.2.2). The
 * value is left out of the spread, which it would otherwise enlarge until it no longer stands out. */
static double farthest_p(const double *value, size_t n, double u_least, size_t *which)
{
    double most = -1.0;
    for (size_t i = 0; i < n; i++) {
        double mean = 0.0, square = 0.0, others = (double)n - 1.0;
        for (size_t k = 0; k < n; k++)
            mean += k == i ? 0.0 : value[k] / others;
        for (size_t k = 0; k < n; k++)
            square += k == i ? 0.0 : (value[k] - mean) * (value[k] - mean);
        double variance = fmax(square / (others - 1.0), u_least * u_least) * (1.0 + 1.0 / others);
        double t =
            variance > 0.0 ? fabs(value[i] - mean) / sqrt(variance) : (value[i] == mean ? 0.0 : (double)INFINITY);
        if (t > most) {
            most = t;
            *which = i;
        }
    }
    return fmin(1.0, (double)n * lds_two_sided_p(most, (double)n - 2.0));
}

/* Two values far off hide each other. As in the generalized ESD test (Rosner 1983, Technometrics 25), the farthest is
 * removed and the rest is tested again, up to a quarter of the values; the farthest stands out when any of these tests
 * says so. Each test has its share of the false alarms. */
void lds_outlier_find(const double *value, size_t count, double u_least, struct lds_outlier *outlier)
{
    *outlier = (struct lds_outlier){.which = -1, .apart = NAN, .p = NAN};
    double *left = malloc((count ? count : 1) * sizeof *left);
    size_t *place = malloc((count ? count : 1) * sizeof *place), n = 0;
    for (size_t i = 0; left && place && i < count; i++)
        if (!isnan(value[i])) {
            left[n] = value[i];
            place[n++] = i;
        }
    size_t looks = n / FEWEST;
    for (size_t look = 0; look < looks; look++) {
        size_t which = 0;
        double p = fmin(1.0, (double)looks * farthest_p(left, n, u_least, &which));
        if (look == 0)
            outlier->which = (int)place[which];
        outlier->p = look == 0 ? p : fmin(outlier->p, p);
        left[which] = left[n - 1];
        place[which] = place[n - 1];
        n--;
    }
    if (outlier->which >= 0)
        outlier->apart = value[outlier->which] - lds_median_of(left, n);
    free(left);
    free(place);
}
