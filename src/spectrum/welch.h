/* The statistical weight of an average of overlapped, windowed frames. */
#ifndef LDS_SPECTRUM_WELCH_H
#define LDS_SPECTRUM_WELCH_H

enum { LDS_WELCH_LAGS = 16 }; /* the frame itself and the frames that may overlap it on one side */

struct lds_welch {
    double bin_dof;    /* chi-square degrees of freedom of one bin's average */
    double band_dof;   /* the same per hertz of a band of white noise */
    double line_noise; /* noise power of a line averaged coherently over the frames, per one-sided density, Hz */
};

/* w[n]: the window; hop >= n / 15. */
void lds_welch_statistics(const double *w, int n, int hop, double rate_hz, int frames, struct lds_welch *welch);

#endif
