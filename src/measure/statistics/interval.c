#include "measure/statistics/interval.h"

#include <gsl/gsl_cdf.h>
#include <gsl/gsl_randist.h>
#include <math.h>

/* From here on the cube root of a chi-square is normal to six digits. */
static const double MANY = 1000.0;

/* Newton steps from the cube root, which is nearly normal (Wilson and Hilferty 1931), kept inside a bracket. GSL's own
 * inverse fails, and stops the program, for one in seven of the degrees of freedom that occur here. */
double lds_chi_square_quantile(double probability, double dof)
{
    double variance = 2.0 / (9.0 * dof);
    double root = 1.0 - variance + gsl_cdf_ugaussian_Pinv(probability) * sqrt(variance);
    if (dof > MANY)
        return root * root * root;
    double low = 0.0, high = INFINITY, x = dof * fmax(root * root * root, 1e-3);
    for (int i = 0; i < 200; i++) {
        double miss = gsl_cdf_chisq_P(x, dof) - probability;
        if (miss > 0.0)
            high = x;
        else
            low = x;
        double slope = gsl_ran_chisq_pdf(x, dof), next = slope > 0.0 ? x - miss / slope : NAN;
        if (!(next > low && next < high))
            next = isinf(high) ? 2.0 * x : 0.5 * (low + high);
        double step = fabs(next - x);
        x = next;
        if (step <= 1e-10 * x) /* below this the rounding of the probability decides where it goes */
            break;
    }
    return x / dof;
}

/* Do 8 blocks scatter more than steady noise of their degrees of freedom? The cube root of a chi-square over its mean
 * is nearly normal with the variance 2/(9 nu) (Wilson and Hilferty 1931), so that a long upper tail does not count as
 * unsteadiness. Blocks are weighted by their frames: the first and the last have fewer. */
static bool blocks_scatter(const struct lds_band_power *band)
{
    if (band->blocks < LDS_BLOCKS || !(band->dof > 0.0) || !(band->power > 0.0))
        return false;
    double root[LDS_BLOCKS], weight[LDS_BLOCKS], mean = 0.0, weights = 0.0, sum = 0.0;
    for (int b = 0; b < LDS_BLOCKS; b++) {
        double dof = 2.0 * band->power * band->power / band->block_variance[b];
        root[b] = cbrt(fmax(band->block[b], 0.0) / band->power);
        weight[b] = 9.0 * dof / 2.0;
        mean += weight[b] * root[b];
        weights += weight[b];
    }
    mean /= weights;
    for (int b = 0; b < LDS_BLOCKS; b++)
        sum += weight[b] * (root[b] - mean) * (root[b] - mean);
    return sum > (LDS_BLOCKS - 1) * lds_chi_square_quantile(0.99, LDS_BLOCKS - 1);
}

static void from_blocks(const struct lds_band_power *band, double *u_power, double *low_power, double *high_power)
{
    double weight[LDS_BLOCKS], mean = 0.0, weights = 0.0, sum = 0.0;
    for (int b = 0; b < LDS_BLOCKS; b++) {
        weight[b] = 1.0 / band->block_variance[b];
        mean += weight[b] * band->block[b];
        weights += weight[b];
    }
    mean /= weights;
    for (int b = 0; b < LDS_BLOCKS; b++)
        sum += weight[b] * (band->block[b] - mean) * (band->block[b] - mean);
    *u_power = sqrt(sum / weights / (LDS_BLOCKS - 1));
    double reach = gsl_cdf_tdist_Pinv(0.975, LDS_BLOCKS - 1) * *u_power;
    *low_power = fmax(band->power - reach, 0.0);
    *high_power = band->power + reach;
}

void lds_band_interval(const struct lds_band_power *band, double *u_power, double *dof, double *low_power,
                       double *high_power, bool *unsteady)
{
    *unsteady = blocks_scatter(band);
    if (*unsteady) {
        from_blocks(band, u_power, low_power, high_power);
        *dof = LDS_BLOCKS - 1;
        return;
    }
    *u_power = sqrt(band->variance);
    *dof = band->dof;
    if (!(band->dof > 0.0)) {
        *low_power = *high_power = band->power;
    } else {
        *low_power = band->power / lds_chi_square_quantile(0.975, band->dof);
        *high_power = band->power / lds_chi_square_quantile(0.025, band->dof);
    }
}
