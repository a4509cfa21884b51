/* Limits of a sum of line powers measured in noise. */
#ifndef LDS_MEASURE_STATISTICS_NONCENTRAL_H
#define LDS_MEASURE_STATISTICS_NONCENTRAL_H

/* Distribution function of the noncentral chi-square: P(X <= x) with dof >= 1 degrees of freedom and noncentrality
 * lambda >= 0. */
double lds_noncentral_cdf(double x, double dof, double lambda);

/* Exact two-sided 95 % limits (2.5 % on each side) of sum V_k^2, the powers of `components` lines, when the raw
 * estimates sum |V_k + noise_k|^2 add up to raw_power_sum and each has complex Gaussian noise of mean power
 * noise_power_each > 0: 2 raw/n is noncentral chi-square with 2 x components degrees of freedom and lambda = 2 sum
 * V^2/n. low is 0 when noise alone explains the raw power. high is never below what raw power equal to the mean of the
 * noise would give, so that a chance dip of the noise does not give a tight limit (it then covers more than 97.5 %). */
void lds_noncentral_limits(double raw_power_sum, double noise_power_each, int components, double *low, double *high);

/* P(raw power sum >= the observed one) for noise alone. */
double lds_noncentral_chance(double raw_power_sum, double noise_power_each, int components);

#endif
