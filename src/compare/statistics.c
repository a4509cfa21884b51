#include "compare/statistics.h"

#include <gsl/gsl_cdf.h>
#include <math.h>
#include <stdlib.h>

/* From here on the cube root of a chi-square is normal to six digits (Wilson and Hilferty 1931). */
static const double MANY = 1000.0;

double lds_two_sided_p(double z, double dof)
{
    if (isnan(z))
        return NAN;
    double size = fabs(z);
    double tail = isfinite(dof) && dof < 1e6 ? gsl_cdf_tdist_Q(size, fmax(dof, 1.0)) : gsl_cdf_ugaussian_Q(size);
    return fmin(1.0, 2.0 * tail);
}

/* Both degrees of freedom large: the ratio of cube roots by Fieller's argument (Paulson 1942), good to the digits that
 * matter here, where the exact function is slow and near its limits. */
static double paulson_deviate(double ratio, double above, double below)
{
    double a = 2.0 / (9.0 * above), b = 2.0 / (9.0 * below), root = cbrt(ratio);
    return ((1.0 - b) * root - (1.0 - a)) / sqrt(b * root * root + a);
}

double lds_variance_ratio_p(double ratio, double dof_above, double dof_below)
{
    if (!(ratio > 0.0) || !(dof_above > 0.0) || !(dof_below > 0.0))
        return NAN;
    if (dof_above > MANY && dof_below > MANY)
        return lds_two_sided_p(paulson_deviate(ratio, dof_above, dof_below), INFINITY);
    double lower = gsl_cdf_fdist_P(ratio, dof_above, dof_below), upper = gsl_cdf_fdist_Q(ratio, dof_above, dof_below);
    return fmin(1.0, 2.0 * fmin(lower, upper));
}

double lds_effective_dof(const double *variance, const double *dof, size_t count)
{
    double sum = 0.0, parts = 0.0;
    for (size_t i = 0; i < count; i++) {
        sum += variance[i];
        if (isfinite(dof[i]) && dof[i] > 0.0)
            parts += variance[i] * variance[i] / dof[i];
    }
    return parts > 0.0 ? sum * sum / parts : (double)INFINITY;
}

struct ranked {
    double p;
    size_t place;
};

static int by_p(const void *a, const void *b)
{
    double x = ((const struct ranked *)a)->p, y = ((const struct ranked *)b)->p;
    return (x > y) - (x < y);
}

bool lds_holm(const double *p, double *adjusted, size_t count)
{
    struct ranked *ranked = malloc((count ? count : 1) * sizeof *ranked);
    if (!ranked)
        return false;
    size_t m = 0;
    for (size_t i = 0; i < count; i++) {
        adjusted[i] = NAN;
        if (!isnan(p[i]))
            ranked[m++] = (struct ranked){p[i], i};
    }
    qsort(ranked, m, sizeof *ranked, by_p);
    double largest = 0.0;
    for (size_t i = 0; i < m; i++) {
        largest = fmax(largest, fmin(1.0, (double)(m - i) * ranked[i].p));
        adjusted[ranked[i].place] = largest;
    }
    free(ranked);
    return true;
}

static int by_value(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

double lds_median_of(double *value, size_t count)
{
    if (count == 0)
        return NAN;
    qsort(value, count, sizeof *value, by_value);
    return count % 2 ? value[count / 2] : 0.5 * (value[count / 2 - 1] + value[count / 2]);
}

void lds_middle_of(double *value, size_t count, double *median, double *spread)
{
    *median = lds_median_of(value, count);
    for (size_t i = 0; i < count; i++)
        value[i] = fabs(value[i] - *median);
    /* 1.4826 = 1/0.6745: the median absolute deviation of a normal distribution is 0.6745 sigma. */
    *spread = count > 1 ? 1.4826 * lds_median_of(value, count) : (double)NAN;
}
