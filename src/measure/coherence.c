#include "measure/coherence.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "constants.h"
#include "spectrum/simd.h"

bool lds_coherence_init(struct lds_coherence *coherence, const struct lds_plan *plan)
{
    memset(coherence, 0, sizeof *coherence);
    coherence->plan = plan;
    for (int i = 0; i < plan->levels; i++) {
        coherence->cross[i] = calloc((size_t)plan->level[i].n / 2 + 1, sizeof *coherence->cross[i]);
        if (!coherence->cross[i])
            return false;
    }
    return true;
}

void lds_coherence_free(struct lds_coherence *coherence)
{
    for (int i = 0; i < LDS_LEVELS_MAX; i++)
        free(coherence->cross[i]);
    memset(coherence, 0, sizeof *coherence);
}

LDS_HOT static void add_cross(const double *restrict x, const double *restrict y, double *restrict sum, size_t bins)
{
    for (size_t i = 0; i < bins; i++) {
        sum[2 * i] += x[2 * i] * y[2 * i] + x[2 * i + 1] * y[2 * i + 1];
        sum[2 * i + 1] += x[2 * i + 1] * y[2 * i] - x[2 * i] * y[2 * i + 1];
    }
}

void lds_coherence_frame(struct lds_coherence *coherence, int level, const double complex *x, const double complex *y)
{
    size_t bins = (size_t)coherence->plan->level[level].n / 2 + 1;
    add_cross((const double *)x, (const double *)y, (double *)coherence->cross[level], bins);
    coherence->frames[level]++;
}

/* Scale from sum X conj(Y) to a density, as the power spectra have it. */
static double density_scale(const struct lds_plan_level *level, int frames)
{
    double s2 = 0.0;
    for (int i = 0; i < level->n; i++)
        s2 += level->window[i] * level->window[i];
    return 2.0 / (level->rate_hz * s2 * frames);
}

/* One bin's estimate from nu/2 independent pairs has the mean 2/nu + gamma^2 (1 - 2/nu) to first order and variance
 * 2 gamma^2 (1 - gamma^2)^2 / (nu/2), (2/nu)^2 for gamma = 0 (Carter 1987, "Coherence and time delay estimation"). */
bool lds_coherence_in_band(const struct lds_coherence *coherence, const struct lds_floor *x, const struct lds_floor *y,
                           double low_hz, double high_hz, struct lds_coherence_band *band)
{
    double sum = 0.0, weights = 0.0, variance_null = 0.0, pairs_sum = 0.0, independent = 0.0;
    for (int i = 0; i < x->density->levels; i++) {
        const struct lds_level *a = &x->density->level[i], *b = &y->density->level[i];
        if (coherence->frames[i] < 2)
            continue;
        double scale = density_scale(&coherence->plan->level[i], coherence->frames[i]);
        /* Frames picked out of the average do not overlap. */
        double pairs = coherence->frames[i] < a->frames ? coherence->frames[i] : 0.5 * a->bin_dof;
        for (int k = a->first; k < a->last; k++) {
            double f = k * a->bin_hz;
            if (f < low_hz || f > high_hz || x->taken[i][k] || y->taken[i][k] || a->power[k] <= 0.0 ||
                b->power[k] <= 0.0)
                continue;
            double magnitude = cabs(coherence->cross[i][k]) * scale;
            double gamma2 = fmin(1.0, magnitude * magnitude / (a->power[k] * b->power[k]));
            double w = a->bin_hz;
            sum += w * (gamma2 - 1.0 / pairs) / (1.0 - 1.0 / pairs);
            weights += w;
            variance_null += w * w / (pairs * pairs) * a->enbw_bins; /* neighbours share about enbw bins */
            pairs_sum += w * pairs;
            independent += 1.0 / a->enbw_bins;
        }
    }
    if (weights <= 0.0)
        return false;
    double mean = sum / weights, pairs = pairs_sum / weights;
    double u_null = sqrt(variance_null) / weights;
    double g = fmax(0.0, fmin(1.0, mean));
    double u = sqrt(2.0 * g * (1.0 - g) * (1.0 - g) / (pairs * fmax(1.0, independent)) + u_null * u_null);
    band->value = g;
    band->low = fmax(0.0, mean - LDS_COVERAGE * u);
    band->high = fmax(g, fmin(1.0, mean + LDS_COVERAGE * u)); /* the mean, less its bias, may lie below 0 */
    band->significance = 1.645 * u_null;
    return true;
}
