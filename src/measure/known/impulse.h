/* The impulse response behind a sweep. With an exponential sweep the response to order k of a distortion appears L
 * ln(k) seconds before the linear one, L = seconds/ln(to/from): Farina, Simultaneous measurement of impulse response
 * and distortion with a swept-sine technique, AES 108 (2000); Novak, Lotton and Simon, Synchronized swept-sine, J.
 * Audio Eng. Soc. 63(10), 2015. */
#ifndef LDS_MEASURE_KNOWN_IMPULSE_H
#define LDS_MEASURE_KNOWN_IMPULSE_H

#include <complex.h>

#include "measure/known/sweep_bands.h"
#include "measure/known/transfer.h"

/* n/2 + 1 bins, and the plan that made them. */
struct lds_spectrum {
    size_t n;
    fftw_plan plan;
    const double complex *bin;
};

/* The impulse response of a band, circular. */
struct lds_impulse {
    const struct lds_sweep_bands *bands;
    const struct lds_sweep_band *band; /* the band of this response */
    const struct lds_signal_spec *spec;
    size_t n;
    const double complex *hartley;       /* see impulse.c; n/2 + 1 */
    double length_s;                     /* L */
    double repeat_s;                     /* from one repeat to the next */
    int repeats;                         /* that there are, and are averaged */
    struct lds_part_window noise_window; /* of parts that hold noise alone */
    double noise_parts;                  /* how many */
    double *noise;                       /* mean |noise|^2 in each bin of them; NULL: not known */
    size_t lines;                        /* steady ones, such as hum, which do not count as noise */
    struct lds_transfer_line line[LDS_TRANSFER_LINES];
};

/* memory: n + 2 numbers, which it uses. known: by which the reference was placed. inverse: what turns the spectrum into
 * that of the impulse response. false: no memory. */
bool lds_impulse_make(struct lds_impulse *impulse, const struct lds_sweep_bands *bands,
                      const struct lds_sweep_band *band, const struct lds_known *known, const double complex *inverse,
                      const struct lds_spectrum *spectrum, double *memory);
void lds_impulse_free(struct lds_impulse *impulse);

/* Length of the linear part over its length without repeats, at most 1. */
double lds_impulse_shorter(const struct lds_signal_spec *spec);

/* The transfer function of one order, from its part of the impulse response, with the noise from parts without signal.
 * Order 0 is the linear part below the second harmonic of the sweep's first frequency, where there is no distortion: a
 * longer part, which holds everything that the beginning of the sweep does to its lowest frequencies. Free with
 * lds_transfer_bins_free. false: no memory. */
bool lds_impulse_bins(const struct lds_impulse *impulse, int order, struct lds_transfer_bins *bins);
void lds_impulse_bins_free(struct lds_transfer_bins *bins);

#endif
