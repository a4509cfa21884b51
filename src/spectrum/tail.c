#include "spectrum/tail.h"

#include <gsl/gsl_cdf.h>
#include <gsl/gsl_eigen.h>
#include <math.h>
#include <stdlib.h>

#include "spectrum/window.h"

enum { WINDOW_POINTS = 1024, LAGS_MAX = 15, DISTINCT_MAX = 6, EXACT_MAX = LDS_TAIL_TERMS };

/* Correlation of the spectra of two frames l steps apart: rho(l) = sum w[n] w[n + l hop] / sum w^2 (Welch 1967; its
 * square appears in the usual formula for the degrees of freedom). A step also turns the phase of each bin, which does
 * not change |X|^2. */
static int frame_correlation(double hop_share, double rho[LAGS_MAX + 1])
{
    double w[WINDOW_POINTS];
    lds_window_fill(&lds_window_analysis, WINDOW_POINTS, w);
    int hop = (int)lround(hop_share * WINDOW_POINTS);
    double energy = 0.0;
    for (int i = 0; i < WINDOW_POINTS; i++)
        energy += w[i] * w[i];
    int lags = 0;
    rho[0] = 1.0;
    for (int l = 1; l <= LAGS_MAX && l * hop < WINDOW_POINTS && hop > 0; l++) {
        double sum = 0.0;
        for (int i = 0; i + l * hop < WINDOW_POINTS; i++)
            sum += w[i] * w[i + l * hop];
        rho[l] = sum / energy;
        lags = l;
    }
    return lags;
}

/* For few frames: the eigenvalues of the matrix rho(|i - j|). */
static bool exact_scales(struct lds_tail *tail, int frames, const double *rho, int lags)
{
    size_t n = (size_t)frames;
    gsl_matrix *matrix = gsl_matrix_calloc(n, n);
    gsl_vector *value = gsl_vector_alloc(n);
    gsl_eigen_symm_workspace *work = gsl_eigen_symm_alloc(n);
    bool made = matrix && value && work;
    if (made) {
        for (int i = 0; i < frames; i++)
            for (int j = 0; j < frames; j++)
                if (abs(i - j) <= lags)
                    gsl_matrix_set(matrix, (size_t)i, (size_t)j, rho[abs(i - j)]);
        gsl_eigen_symm(matrix, value, work);
        for (int i = 0; i < frames; i++) {
            tail->scale[i] = fmax(gsl_vector_get(value, (size_t)i), 1e-9) / frames;
            tail->shape[i] = 1.0;
        }
        tail->terms = frames;
    }
    gsl_eigen_symm_free(work);
    gsl_vector_free(value);
    gsl_matrix_free(matrix);
    return made;
}

/* For many frames: the eigenvalues of a banded Toeplitz matrix of order K follow its symbol rho(0) + 2 sum rho(l) cos l
 * w, w even over 0..pi (Grenander and Szego, Toeplitz Forms, 1958); neighbouring eigenvalues share a term. Unlike the
 * symbol, the matrix has ends, so the order is raised until the variance is that of the K frames. */
static void symbol_scales(struct lds_tail *tail, int frames, const double *rho, int lags)
{
    double endless = 1.0, finite = 1.0;
    for (int l = 1; l <= lags; l++) {
        endless += 2.0 * rho[l] * rho[l];
        finite += 2.0 * (1.0 - (double)l / frames) * rho[l] * rho[l];
    }
    double order = frames * endless / finite;
    for (int i = 0; i < LDS_TAIL_TERMS; i++) {
        double at = M_PI * (i + 0.5) / LDS_TAIL_TERMS, symbol = rho[0];
        for (int l = 1; l <= lags; l++)
            symbol += 2.0 * rho[l] * cos(l * at);
        tail->scale[i] = fmax(symbol, 1e-9) / order;
        tail->shape[i] = order / LDS_TAIL_TERMS;
    }
    tail->terms = LDS_TAIL_TERMS;
}

bool lds_tail_init(struct lds_tail *tail, int frames, double hop_share)
{
    double rho[LAGS_MAX + 1];
    int lags = frame_correlation(hop_share, rho);
    tail->terms = 0;
    tail->distinct = false;
    if (frames > EXACT_MAX) {
        symbol_scales(tail, frames, rho, lags);
        return true;
    }
    if (!exact_scales(tail, frames < 1 ? 1 : frames, rho, lags))
        return false;
    tail->distinct = frames <= DISTINCT_MAX;
    for (int i = 0; i < tail->terms; i++)
        for (int j = 0; j < i; j++)
            if (fabs(tail->scale[i] - tail->scale[j]) < 1e-3 * tail->scale[i])
                tail->distinct = false;
    return true;
}

/* Sum of exponentials of distinct means: P(Q > x) = sum_i exp(-x/s_i) prod_{j != i} s_i/(s_i - s_j). */
static double distinct_probability(const struct lds_tail *tail, double x)
{
    double sum = 0.0;
    for (int i = 0; i < tail->terms; i++) {
        double product = 1.0;
        for (int j = 0; j < tail->terms; j++)
            if (j != i)
                product *= tail->scale[i] / (tail->scale[i] - tail->scale[j]);
        sum += product * exp(-x / tail->scale[i]);
    }
    return fmin(fmax(sum, 0.0), 1.0);
}

/* The first three derivatives, k[1..3], of the cumulant generating function K(t) = -sum shape ln(1 - scale t). */
static void cumulants(const struct lds_tail *tail, double t, double k[4])
{
    k[1] = k[2] = k[3] = 0.0;
    for (int i = 0; i < tail->terms; i++) {
        double ratio = tail->scale[i] / (1.0 - tail->scale[i] * t), shaped = tail->shape[i] * ratio;
        k[1] += shaped;
        k[2] += shaped * ratio;
        k[3] += 2.0 * shaped * ratio * ratio;
    }
}

static double generating(const struct lds_tail *tail, double t)
{
    double sum = 0.0;
    for (int i = 0; i < tail->terms; i++)
        sum -= tail->shape[i] * log1p(-tail->scale[i] * t);
    return sum;
}

/* K'(t) = x, between -infinity and 1/max scale; K' rises, so Newton's step is kept inside a shrinking bracket. */
static double saddlepoint(const struct lds_tail *tail, double x, double k[4])
{
    double top = 0.0, shapes = 0.0;
    for (int i = 0; i < tail->terms; i++) {
        top = fmax(top, tail->scale[i]);
        shapes += tail->shape[i];
    }
    double low = -shapes / x - 1.0, high = 1.0 / top, t = 0.0;
    for (int i = 0; i < 200; i++) {
        cumulants(tail, t, k);
        if (fabs(k[1] - x) <= 1e-10 * x)
            break;
        if (k[1] < x)
            low = t;
        else
            high = t;
        double next = t - (k[1] - x) / k[2];
        t = next > low && next < high ? next : 0.5 * (low + high);
    }
    return t;
}

/* Lugannani and Rice, Adv. Appl. Prob. 12 (1980) 475: P(Q > x) = 1 - Phi(w) + phi(w) (1/u - 1/w). */
static double saddlepoint_probability(const struct lds_tail *tail, double x)
{
    double k[4], t = saddlepoint(tail, x, k);
    double w = copysign(sqrt(2.0 * fmax(t * x - generating(tail, t), 0.0)), t), u = t * sqrt(k[2]);
    if (fabs(w) < 1e-3) /* at the mean both 1/u and 1/w diverge; the limit of their difference is -K'''/(6 K''^1.5) */
        return fmin(fmax(gsl_cdf_ugaussian_Q(w) - k[3] / (6.0 * pow(k[2], 1.5)) / sqrt(2.0 * M_PI), 0.0), 1.0);
    double p = gsl_cdf_ugaussian_Q(w) + exp(-0.5 * w * w) / sqrt(2.0 * M_PI) * (1.0 / u - 1.0 / w);
    return fmin(fmax(p, 0.0), 1.0);
}

double lds_tail_probability(const struct lds_tail *tail, double ratio)
{
    if (ratio <= 0.0)
        return 1.0;
    return tail->distinct || tail->terms == 1 ? distinct_probability(tail, ratio)
                                              : saddlepoint_probability(tail, ratio);
}

/* The floor is an estimate too: the mean of the tail over a normal error of the floor's logarithm, by Gauss-Hermite
 * quadrature with 9 points (Abramowitz and Stegun 25.4.46). */
static double blurred_probability(const struct lds_tail *tail, double ratio, double floor_sd)
{
    static const double at[9] = {-3.190993201781528, -2.266580584531843, -1.468553289216668, -0.723551018752838, 0.0,
                                 0.723551018752838,  1.468553289216668,  2.266580584531843,  3.190993201781528};
    static const double weight[9] = {3.960697726326438e-5, 4.943624275536947e-3, 8.847452739437657e-2,
                                     4.326515590025558e-1, 7.202352156060510e-1, 4.326515590025558e-1,
                                     8.847452739437657e-2, 4.943624275536947e-3, 3.960697726326438e-5};
    double sum = 0.0;
    for (int i = 0; i < 9; i++)
        sum += weight[i] * lds_tail_probability(tail, ratio * exp(M_SQRT2 * floor_sd * at[i]));
    return sum / sqrt(M_PI);
}

double lds_tail_threshold(const struct lds_tail *tail, double probability, double floor_sd)
{
    double sd = fmin(fmax(floor_sd, 0.0), 0.3), low = 0.0, high = 2.0;
    while (blurred_probability(tail, high, sd) > probability && high < 1e6) {
        low = high;
        high *= 2.0;
    }
    while (high - low > 1e-5 * high) {
        double middle = 0.5 * (low + high);
        if (blurred_probability(tail, middle, sd) > probability)
            low = middle;
        else
            high = middle;
    }
    return high;
}
