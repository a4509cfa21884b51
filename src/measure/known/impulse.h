/* The impulse response behind a sweep. With an exponential sweep the response to order k of a distortion stands
 * L ln(k) seconds before the linear one, L = seconds/ln(to/from): Farina, Simultaneous measurement of impulse response
 * and distortion with a swept-sine technique, AES 108 (2000); Novak, Lotton and Simon, Synchronized swept-sine, J.
 * Audio Eng. Soc. 63(10), 2015. */
#ifndef LDS_MEASURE_KNOWN_IMPULSE_H
#define LDS_MEASURE_KNOWN_IMPULSE_H

#include <complex.h>

#include "measure/known/blocks.h"
#include "measure/known/transfer.h"

/* What turns the spectrum of a stretch into that of the impulse response; the same for all channels. */
struct lds_sweep_filter {
    const struct lds_known *known; /* by which the reference was placed */
    double rate_hz, first;         /* of the stretches */
    size_t n;                      /* of the transform, even */
    double complex *played;        /* inverse of the sweep as it was played, n/2 + 1 */
};

/* Its n is that of the stretch. false: no memory. */
bool lds_sweep_filter_make(struct lds_sweep_filter *filter, const struct lds_stretch *stretch,
                           const struct lds_known *known);
void lds_sweep_filter_free(struct lds_sweep_filter *filter);

/* Numbers that the samples of a stretch need room for, so that its spectrum can take their place. */
size_t lds_stretch_room(size_t frames);
/* Puts the spectrum, n/2 + 1 complex numbers, in place of the samples. false: no memory. */
bool lds_stretch_transform(double *x, size_t frames);

enum lds_impulse_of {
    LDS_IMPULSE_LINEAR,
    LDS_IMPULSE_ORDERS /* from the second up: by the inverse of a sweep that goes on above the last frequency, as its
                        * harmonics do (spectrum by stationary phase: Novak 2015, eq. 33) */
};

struct lds_impulse {
    size_t n;
    double *h;                /* circular; h[0] is at the delay at which the reference was placed */
    double rate_hz, length_s; /* L */
    double repeat_s;          /* from one repeat to the next */
    const struct lds_signal_spec *spec;
};

bool lds_impulse_make(struct lds_impulse *impulse, const struct lds_sweep_filter *filter, enum lds_impulse_of of,
                      const double complex *spectrum);
void lds_impulse_free(struct lds_impulse *impulse);

/* The transfer function of one order, or, for order 0, that of the linear part below the second harmonic of the sweep's
 * first frequency, where no distortion is: a longer part, which holds all that the beginning of the sweep does to its
 * lowest frequencies. Its part of the impulse response, and the noise in parts like it that hold none.
 * Free with lds_transfer_bins_free. false: no memory. */
bool lds_impulse_bins(const struct lds_impulse *impulse, int order, struct lds_transfer_bins *bins);
void lds_impulse_bins_free(struct lds_transfer_bins *bins);

#endif
