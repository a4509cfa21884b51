/* Weighting curves for noise, as power gains. */
#ifndef LDS_MEASURE_NOISE_WEIGHTING_H
#define LDS_MEASURE_NOISE_WEIGHTING_H

/* A-weighting of IEC 61672-1, 1 at 1 kHz (0 at 0 Hz). context is not used; it makes the function a weight for
 * lds_floor_band. */
double lds_weighting_a(double frequency_hz, const void *context);

/* ITU-R BS.468-4, 1 at 1 kHz (0 at 0 Hz). */
double lds_weighting_itu468(double frequency_hz, const void *context);

#endif
