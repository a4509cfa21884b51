/* Samples at any times, by a windowed sinc. */
#ifndef LDS_MEASURE_KNOWN_RESAMPLE_H
#define LDS_MEASURE_KNOWN_RESAMPLE_H

#include <stddef.h>

/* out[i], of `count`, is what the n samples x are at first + i step, in samples from x[0], with step close to 1; x
 * counts as 0 outside. Up to 0.46 of the rate the gain is 1 within 1e-6. Source: Smith and Gossett, A flexible
 * sampling-rate conversion method, ICASSP 1984; the window is Kaiser's. */
void lds_resample(const double *x, size_t n, double first, double step, size_t count, double *out);

#endif
