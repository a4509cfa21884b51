/* Composite spectra for tests: of samples, through the FFT stage, and made up bin by bin. */
#ifndef TEST_SPECTRA_H
#define TEST_SPECTRA_H

#include <stddef.h>

#include "spectrum/density.h"

/* The spectrum of n samples; lds_density_free frees it. The program ends with a message when there is no memory. */
void spectrum_of(const double *x, size_t n, double rate_hz, struct lds_density *density);

/* Two levels (6 kHz and 48 kHz, bins of 1 and 4 Hz) whose every bin is density(f), with 100 frames and the degrees of
 * freedom given; lds_density_free frees it. */
void spectrum_made(double (*density)(double frequency_hz), double bin_dof, double band_dof, struct lds_density *made);

#endif
