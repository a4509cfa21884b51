/* The transfer function from an input to an output, whose spectra are known in bins: at each frequency a fit over the
 * bins around it. */
#ifndef LDS_MEASURE_KNOWN_TRANSFER_H
#define LDS_MEASURE_KNOWN_TRANSFER_H

#include <complex.h>
#include <stdbool.h>
#include <stddef.h>

#include "measure/known/part_window.h"

enum { LDS_TRANSFER_LINES = 64 };

/* A steady line, such as hum: half its amplitude, and the bin it is at. */
struct lds_transfer_line {
    double bin, half;
};

struct lds_transfer_bins {
    const struct lds_transfer_bins *above; /* those for frequencies from to_hz up; NULL: these are for all */
    double to_hz;
    double bin_hz; /* width of a bin; bin k is at k bin_hz */
    size_t bins;
    const double complex *in, *out; /* their spectra, on one scale; in may be NULL, for 1 */
    const double *noise;            /* mean |noise|^2 of each bin of `out`, from repeats; NULL: not known */
    double noise_dof;               /* of each such noise */
    struct lds_part_window window;  /* of the part whose transform `out` is */
    size_t lines;
    struct lds_transfer_line line[LDS_TRANSFER_LINES]; /* the steady lines in `out` */
    double averages;                                   /* repeats that were averaged for `out` */
    double overlap; /* bins per independent bin, where the samples were padded; 0: 1 */
    double fewest;  /* the fewest bins of a fit, which may then be wider than a step; 0: no minimum */
    double delay_s; /* of the output, taken out first: phases then turn slowly */
};

struct lds_transfer_point {
    double hz;
    double complex gain; /* without the delay */
    double u;            /* standard uncertainty of its real part, and of its imaginary part */
    double dof;
    double coherence; /* magnitude squared, of one repeat */
    bool near_line;   /* a steady line is most of u */
};

struct lds_transfer {
    size_t count;
    struct lds_transfer_point *point; /* in rising order of frequency */
};

/* The transfer function at one frequency, or at `per_octave` points an octave from low_hz to high_hz, one of them at 1
 * kHz. Each point is the value of a straight line over frequency, fitted to the bins within half a step on both sides.
 * Its uncertainty follows from the residuals and from repeats; a steady line, such as hum, counts as noise of unknown
 * phase (Bendat and Piersol, Random Data, 4th ed., section 9.2; the slope is fitted so that the gain may change within
 * the step). Where bins are wider than steps, the gain is interpolated between bins. false: no memory. */
void lds_transfer_at(const struct lds_transfer_bins *bins, double hz, int per_octave, struct lds_transfer_point *point);
bool lds_transfer_fit(const struct lds_transfer_bins *bins, double low_hz, double high_hz, int per_octave,
                      struct lds_transfer *transfer);
/* The coherence that exceeds the true one with that probability. The noise is a chi-square; the power is known far
 * better. */
double lds_transfer_coherence_at(const struct lds_transfer_point *point, double probability);
void lds_transfer_free(struct lds_transfer *transfer);

#endif
