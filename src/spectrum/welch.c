#include "spectrum/welch.h"

/* Sum over frame lags |l| < frames of (1 - |l|/frames) r(l): the variance factor of an average of overlapped frames. */
static double lag_sum(int frames, int lags, const double *r)
{
    double sum = r[0];
    for (int l = 1; l <= lags && l < frames; l++)
        sum += 2.0 * (1.0 - (double)l / frames) * r[l];
    return sum;
}

/* Statistics of a Welch average (Welch 1967; Percival and Walden 1993 for the squared overlap correlation). One bin: nu
 * = 2K / (1 + 2 sum (1 - m/K) rho(m)^2), rho(m) = sum w[n] w[n+mH] / sum w^2. A band sums correlated bins: by Parseval
 * the variance of the band's power is that of sum_m sum_n w^2[n] w^2[n+mH], so nu/B = 2K (sum w^2)^2 / (fs sum_m (1 -
 * |m|/K) sum_n w^2[n] w^2[n+mH]). A line is the coherent mean of K frames: its noise power is S fs sum w^2/(sum w)^2
 * (1/K) sum (1 - |m|/K) rho(m). */
void lds_welch_statistics(const double *w, int n, int hop, double rate_hz, int frames, struct lds_welch *welch)
{
    int lags = (n - 1) / hop;
    double bin[LDS_WELCH_LAGS] = {0}, band[LDS_WELCH_LAGS] = {0}, line[LDS_WELCH_LAGS] = {0};
    double s1 = 0.0, s2 = 0.0;
    for (int i = 0; i < n; i++) {
        s1 += w[i];
        s2 += w[i] * w[i];
    }
    for (int l = 0; l <= lags && l < LDS_WELCH_LAGS; l++) {
        double cross = 0.0, squares = 0.0;
        for (int i = 0, j = l * hop; j < n; i++, j++) {
            cross += w[i] * w[j];
            squares += w[i] * w[i] * w[j] * w[j];
        }
        bin[l] = cross * cross / (s2 * s2);
        band[l] = squares;
        line[l] = cross / s2;
    }
    int k = frames > 0 ? frames : 1;
    welch->bin_dof = 2.0 * k / lag_sum(k, lags, bin);
    welch->band_dof = 2.0 * k * s2 * s2 / (rate_hz * lag_sum(k, lags, band));
    welch->line_noise = rate_hz * s2 / (s1 * s1) * lag_sum(k, lags, line) / k;
}
