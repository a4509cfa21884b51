#include "measure/statistics/noncentral.h"

#include <math.h>
#include <stdbool.h>

#include <gsl/gsl_cdf.h>
#include <gsl/gsl_sf_gamma.h>

/* M. Sankaran, "Approximations to the non-central chi-square distribution", Biometrika 50 (1963) 199-204: the root of
 * chi'^2 - (dof - 1)/2 is normal about the root of lambda + (dof - 1)/2 with unit variance (from memory; the tests
 * compare it with scipy.stats.ncx2). */
static double sankaran_root(double x, double dof)
{
    return sqrt(fmax(0.0, x - 0.5 * (dof - 1.0)));
}

/* From here on the limits by Sankaran's form are within 1e-4 of the interval's width (as the tests check). */
static bool asymptotic(double dof, double lambda)
{
    return lambda > 400.0 + 5.0 * dof;
}

static double sankaran_cdf(double x, double dof, double lambda)
{
    return gsl_cdf_ugaussian_P(sankaran_root(x, dof) - sqrt(lambda + 0.5 * (dof - 1.0)));
}

/* Poisson mixture of central distributions (Johnson, Kotz, Balakrishnan, Continuous Univariate Distributions 2, ch.
 * 29): F(x) = sum_j Pois(j; lambda/2) P(dof/2 + j, x/2). P for descending j by P(a, y) = P(a + 1, y) + y^a e^-y /
 * Gamma(a + 1), where all terms are positive, so nothing cancels. */
static const double LEAST = 1e-250;

static double mixture_cdf(double x, double dof, double lambda)
{
    const double half = 0.5 * lambda, y = 0.5 * x;
    const double reach = 9.0 * sqrt(half) + 25.0;
    const double top = floor(half + reach), bottom = fmax(0.0, floor(half - reach));
    double a = 0.5 * dof + top;
    double gamma_p = gsl_cdf_gamma_P(y, a, 1.0);
    double weight = exp(top * log(half) - half - gsl_sf_lngamma(top + 1.0));
    double log_step = (a - 1.0) * log(y) - y - gsl_sf_lngamma(a);
    double sum = 0.0;
    double step = exp(log_step);
    bool large = step > LEAST; /* smaller steps would underflow, so they are taken from their logarithm */
    for (double j = top; j >= bottom; j -= 1.0) {
        sum += weight * gamma_p;
        gamma_p += step;
        if (large) {
            step *= (a - 1.0) / y;
        } else {
            log_step += log((a - 1.0) / y);
            step = exp(log_step);
            large = step > LEAST;
        }
        weight *= j / half;
        a -= 1.0;
    }
    return fmin(1.0, sum);
}

double lds_noncentral_cdf(double x, double dof, double lambda)
{
    if (!(x > 0.0))
        return 0.0;
    if (lambda < 1e-12)
        return gsl_cdf_chisq_P(x, dof);
    return asymptotic(dof, lambda) ? sankaran_cdf(x, dof, lambda) : mixture_cdf(x, dof, lambda);
}

/* The lambda at which F(x; dof, lambda) = p: F falls as lambda rises. Sankaran's root is close: bracket around it, then
 * false position with the Illinois rule. */
static double solve_lambda(double x, double dof, double p)
{
    if (gsl_cdf_chisq_P(x, dof) <= p)
        return 0.0;
    const double root = sankaran_root(x, dof) - gsl_cdf_ugaussian_Pinv(p);
    const double guess = fmax(0.0, root * fabs(root) - 0.5 * (dof - 1.0));
    if (asymptotic(dof, guess))
        return guess;
    double width = 0.02 * sqrt(guess + dof);
    double low = fmax(0.0, guess - width), high = guess + width;
    double at_low = lds_noncentral_cdf(x, dof, low) - p, at_high = lds_noncentral_cdf(x, dof, high) - p;
    for (; at_low < 0.0 && low > 0.0; width *= 2.0) {
        high = low;
        at_high = at_low;
        low = fmax(0.0, low - 2.0 * width);
        at_low = lds_noncentral_cdf(x, dof, low) - p;
    }
    for (; at_high > 0.0; width *= 2.0) {
        low = high;
        at_low = at_high;
        high += 2.0 * width;
        at_high = lds_noncentral_cdf(x, dof, high) - p;
    }
    for (int i = 0; i < 60 && fabs(high - low) > 1e-8 * (1.0 + high); i++) {
        const double middle = high - at_high * (high - low) / (at_high - at_low);
        const double at = lds_noncentral_cdf(x, dof, middle) - p;
        if (fabs(at) < 1e-8)
            return middle;
        if ((at > 0.0) == (at_high > 0.0)) {
            at_low *= 0.5;
        } else {
            low = high;
            at_low = at_high;
        }
        high = middle;
        at_high = at;
    }
    return high;
}

void lds_noncentral_limits(double raw_power_sum, double noise_power_each, int components, double *low, double *high)
{
    const double dof = 2.0 * components;
    const double x = 2.0 * raw_power_sum / noise_power_each;
    *low = 0.5 * noise_power_each * solve_lambda(x, dof, 0.975);
    *high = 0.5 * noise_power_each * solve_lambda(fmax(x, dof), dof, 0.025);
}

double lds_noncentral_chance(double raw_power_sum, double noise_power_each, int components)
{
    return gsl_cdf_chisq_Q(2.0 * raw_power_sum / noise_power_each, 2.0 * components);
}
