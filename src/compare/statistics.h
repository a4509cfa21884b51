/* The tests and intervals that a comparison uses. */
#ifndef LDS_COMPARE_STATISTICS_H
#define LDS_COMPARE_STATISTICS_H

#include <stdbool.h>
#include <stddef.h>

/* Two-sided p of a deviate |z| with dof degrees of freedom: Student's t, normal when dof is infinite. */
double lds_two_sided_p(double z, double dof);

/* Two-sided p of "both variances are the same" from the ratio of two chi-square variance estimates (F test): twice the
 * smaller tail. */
double lds_variance_ratio_p(double ratio, double dof_above, double dof_below);

/* Effective degrees of freedom of a sum of estimated variances (Welch 1947; Satterthwaite 1946): (sum v)^2 /
 * sum(v^2/nu). INFINITY when all parts are known. */
double lds_effective_dof(const double *variance, const double *dof, size_t count);

/* Holm (1979), "A simple sequentially rejective multiple test procedure": the i-th smallest of m gets the largest of
 * (m - j) p_j over j <= i, at most 1. NAN stays NAN and does not count. false: no memory. */
bool lds_holm(const double *p, double *adjusted, size_t count);

/* Median of the values, which are sorted; NAN without any. */
double lds_median_of(double *value, size_t count);

/* The median of the values, NAN without any, and their spread: the median absolute deviation as the sigma of a normal
 * distribution, NAN below two. The values are overwritten. */
void lds_middle_of(double *value, size_t count, double *median, double *spread);

#endif
