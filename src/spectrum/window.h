/* Cosine-sum windows, periodic: w[n] = sum_k (-1)^k a_k cos(2 pi k n / N), 0 <= n < N. */
#ifndef LDS_SPECTRUM_WINDOW_H
#define LDS_SPECTRUM_WINDOW_H

#include <stddef.h>

struct lds_window {
    const char *name;
    int terms;
    double a[12];
};

/* The analysis window of every level: 7 terms, side lobes below -180 dB, main lobe +-7 bins. */
extern const struct lds_window lds_window_analysis;
extern const struct lds_window lds_window_hann;

/* Fills w[n]. */
void lds_window_fill(const struct lds_window *window, size_t n, double *w);

/* W(offset)/W(0) for an offset in bins (continuous-frequency limit, real and even). */
double lds_window_transform(const struct lds_window *window, double offset_bins);

/* Equivalent noise bandwidth in bins: N sum w^2 / (sum w)^2 = (a0^2 + sum a_k^2 / 2) / a0^2 (Heinzel 2002). */
double lds_window_enbw(const struct lds_window *window);

#endif
