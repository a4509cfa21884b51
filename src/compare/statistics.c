#include "compare/statistics.h"

#include <gsl/gsl_cdf.h>
#include <gsl/gsl_sort.h>
#include <gsl/gsl_statistics_double.h>
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

/* For large degrees of freedom on both sides: the ratio of cube roots by Fieller's argument (Paulson 1942), accurate
 * enough here, where the exact function is slow and near its limits. */
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

bool lds_holm(const double *p, double *adjusted, size_t count)
{
    size_t *order = malloc((count + 1) * sizeof *order), known = 0;
    if (!order)
        return false;
    for (size_t i = 0; i < count; i++) {
        adjusted[i] = isnan(p[i]) ? (double)INFINITY : p[i];
        known += isnan(p[i]) ? 0 : 1;
    }
    gsl_sort_index(order, adjusted, 1, count);
    double largest = 0.0;
    for (size_t i = 0; i < count; i++) {
        largest = fmax(largest, fmin(1.0, (double)(known - i) * adjusted[order[i]]));
        adjusted[order[i]] = i < known ? largest : (double)NAN;
    }
    free(order);
    return true;
}

double lds_median_of(double *value, size_t count)
{
    gsl_sort(value, 1, count);
    return count > 0 ? gsl_stats_median_from_sorted_data(value, 1, count) : (double)NAN;
}

void lds_middle_of(double *value, size_t count, double *median, double *spread)
{
    *median = lds_median_of(value, count);
    for (size_t i = 0; i < count; i++)
        value[i] = fabs(value[i] - *median);
    /* 1.4826 = 1/0.6745: the median absolute deviation of a normal distribution is 0.6745 sigma. */
    *spread = count > 1 ? 1.4826 * lds_median_of(value, count) : (double)NAN;
}
