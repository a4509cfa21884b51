#include "measure/pair/coherence.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "constants.h"
#include "measure/pair/kept_frames.h"
#include "spectrum/simd.h"

enum { RE, IM, XX, YY, PARTS };

bool lds_coherence_init(struct lds_coherence *coherence, const struct lds_plan *plan)
{
    memset(coherence, 0, sizeof *coherence);
    coherence->plan = plan;
    for (int i = 0; i < plan->levels; i++) {
        coherence->sum[i] = calloc(PARTS * lds_kept_bins(plan, i).count, sizeof *coherence->sum[i]);
        if (!coherence->sum[i])
            return false;
    }
    return true;
}

void lds_coherence_free(struct lds_coherence *coherence)
{
    for (int i = 0; i < LDS_LEVELS_MAX; i++)
        free(coherence->sum[i]);
    memset(coherence, 0, sizeof *coherence);
}

/* The bins of each part are contiguous in memory, so that several are processed at once. */
LDS_HOT static void add_frame(const double *restrict x, const double *restrict y, double *restrict sum, size_t bins)
{
    double *restrict re = sum + RE * bins, *restrict im = sum + IM * bins;
    double *restrict xx = sum + XX * bins, *restrict yy = sum + YY * bins;
    for (size_t i = 0; i < bins; i++) {
        double a = x[2 * i], b = x[2 * i + 1], c = y[2 * i], d = y[2 * i + 1];
        re[i] += a * c + b * d;
        im[i] += b * c - a * d;
        xx[i] += a * a + b * b;
        yy[i] += c * c + d * d;
    }
}

/* The sums of one bin. */
static void read_sums(const struct lds_coherence *coherence, int level, int bin, double sum[PARTS])
{
    struct lds_kept_bins bins = lds_kept_bins(coherence->plan, level);
    for (size_t part = 0; part < PARTS; part++)
        sum[part] = coherence->sum[level][part * bins.count + (size_t)bin - bins.first];
}

void lds_coherence_frame(struct lds_coherence *coherence, int level, const double complex *x, const double complex *y)
{
    size_t bins = lds_kept_bins(coherence->plan, level).count;
    add_frame((const double *)x, (const double *)y, coherence->sum[level], bins);
    coherence->frames[level]++;
}

double lds_coherence_transfer(const struct lds_coherence *coherence, int level, int bin, bool of_first, int *frames)
{
    double sum[PARTS];
    read_sums(coherence, level, bin, sum);
    double reference = sum[of_first ? XX : YY];
    *frames = coherence->frames[level];
    return reference > 0.0 ? (sum[RE] * sum[RE] + sum[IM] * sum[IM]) / (reference * reference) : 0.0;
}

/* Mean of the estimate from n independent frames when the coherence is g (Carter, Knapp and Nuttall 1973, "Estimation
 * of the magnitude-squared coherence function via overlapped fast Fourier transform processing"): 1/n + (n - 1)/(n + 1)
 * g 2F1(1, 1; n + 2; g). */
static double mean_estimate(double g, double n)
{
    double term = 1.0, series = 0.0;
    for (int k = 0; k < 10000 && term > 1e-9 * series; k++) {
        series += term;
        term *= g * (k + 1.0) / (n + 2.0 + k);
    }
    return 1.0 / n + (n - 1.0) / (n + 1.0) * g * series;
}

/* The coherence whose estimate has this mean, and the slope of coherence over mean. Means below that of independent
 * channels are extrapolated by a straight line, so that an average over levels is not biased upwards. */
static double without_bias(double mean, double n, double *slope)
{
    const double step = 1e-4;
    double low = 0.0, high = 1.0;
    if (mean <= 1.0 / n) {
        *slope = step / (mean_estimate(step, n) - 1.0 / n);
        return *slope * (mean - 1.0 / n);
    }
    for (int i = 0; i < 40; i++) {
        double middle = 0.5 * (low + high);
        if (mean_estimate(middle, n) < mean)
            low = middle;
        else
            high = middle;
    }
    double at = fmin(low, 1.0 - step);
    *slope = step / (mean_estimate(at + step, n) - mean_estimate(at, n));
    return low;
}

/* The contribution of one level to a band. */
struct part {
    double width_hz;
    double value;
    double variance, variance_null; /* variance_null: for independent channels */
};

static bool usable(const struct lds_floor *x, const struct lds_floor *y, int level, int k, const double *sum)
{
    return !x->taken[level][k] && !y->taken[level][k] && sum[XX] > 0.0 && sum[YY] > 0.0;
}

/* The scatter of neighbouring bins is correlated; the level's degrees of freedom give the number of independent ones.
 * The variance of one is 2 g (1 - g)^2/n for many frames, and 1/n^2 for g = 0 (Carter 1987, "Coherence and time delay
 * estimation"). */
static void in_level(const struct lds_coherence *coherence, const struct lds_floor *x, const struct lds_floor *y,
                     int level, double low_hz, double high_hz, struct part *part)
{
    const struct lds_level *a = &x->density->level[level];
    double n = coherence->frames[level], mean = 0.0, bins = 0.0, slope;
    *part = (struct part){0};
    for (int k = a->first; k < a->last && n >= 2.0; k++) {
        double f = k * a->bin_hz, sum[PARTS];
        read_sums(coherence, level, k, sum);
        if (f < low_hz || f > high_hz || !usable(x, y, level, k, sum))
            continue;
        mean += (sum[RE] * sum[RE] + sum[IM] * sum[IM]) / (sum[XX] * sum[YY]);
        bins++;
    }
    if (bins == 0.0)
        return;
    part->width_hz = bins * a->bin_hz;
    part->value = without_bias(mean / bins, n, &slope);
    double g = fmax(0.0, part->value), independent = fmax(1.0, part->width_hz * a->band_dof / a->bin_dof);
    part->variance_null = slope * slope / (n * n * independent);
    part->variance =
        (1.0 - g) * (1.0 - g) * (2.0 * g * n * slope * slope / (n * n * independent) + part->variance_null);
}

bool lds_coherence_in_band(const struct lds_coherence *coherence, const struct lds_floor *x, const struct lds_floor *y,
                           double low_hz, double high_hz, struct lds_coherence_band *band)
{
    double sum = 0.0, width = 0.0, variance = 0.0, variance_null = 0.0;
    for (int i = 0; i < x->density->levels; i++) {
        struct part part;
        in_level(coherence, x, y, i, low_hz, high_hz, &part);
        sum += part.width_hz * part.value;
        width += part.width_hz;
        variance += part.width_hz * part.width_hz * part.variance;
        variance_null += part.width_hz * part.width_hz * part.variance_null;
    }
    if (width <= 0.0)
        return false;
    double mean = sum / width, reach = LDS_COVERAGE * sqrt(variance) / width;
    band->value = fmax(0.0, fmin(1.0, mean));
    band->low = fmax(0.0, mean - reach);
    band->high = fmax(band->value, fmin(1.0, mean + reach)); /* the mean minus its bias may be below 0 */
    band->significance = 1.645 * sqrt(variance_null) / width;
    return true;
}
