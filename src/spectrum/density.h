/* The composite spectrum of one channel: an octave cascade of levels, each a Welch average with the same window at its
 * own rate. Every frequency belongs to exactly one level: level i holds bins [first, last), and the next level starts
 * at the frequency where this one ends. One-sided, in the square of the samples' unit (full scale, or volts) per hertz.
 */
#ifndef LDS_SPECTRUM_DENSITY_H
#define LDS_SPECTRUM_DENSITY_H

#include "spectrum/store.h"

enum { LDS_LEVELS_MAX = 5, LDS_BLOCKS = 8, LDS_LOBE_BINS = 7 };

struct lds_level {
    double rate_hz;
    int n, hop;      /* frame length and step, samples of this level */
    double bin_hz;   /* rate_hz / n */
    int first, last; /* bins of the composite spectrum taken from this level */
    int frames;
    double *power;             /* n/2 + 1 densities, mean over all frames */
    double *block[LDS_BLOCKS]; /* the same over the frames whose centre is in each eighth of the capture */
    int block_frames[LDS_BLOCKS];
    double enbw_bins;  /* 2.63 for the analysis window */
    double bin_dof;    /* chi-square degrees of freedom of one bin's average */
    double band_dof;   /* degrees of freedom per hertz of a band of white noise: nu = band_dof * B; for a block in
                        * proportion to its frames */
    double line_noise; /* noise power of a line averaged coherently over all frames, per density: Hz */
};

struct lds_density {
    double seconds;
    double end_hz; /* 0.45 fs: the usable end of the capture */
    int levels;    /* level[0] is the slowest (lowest frequencies) */
    struct lds_level level[LDS_LEVELS_MAX];
    struct lds_store store; /* holds the arrays of the levels */
};

/* The level whose bins hold the frequency (clamped to the ends). */
const struct lds_level *lds_density_level(const struct lds_density *density, double frequency_hz);

#endif
