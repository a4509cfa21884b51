/* Takes steady lines, such as hum or a tone, out of a short stretch of samples. */
#ifndef LDS_MEASURE_DC_LINES_OUT_H
#define LDS_MEASURE_DC_LINES_OUT_H

#include <stdbool.h>
#include <stddef.h>

/* Finds lines above 15 Hz in y[first..n), the strongest first, and takes each out of all n samples of both x and y, as
 * if it had been there throughout; those with amplitudes below `least` stay. y is x without its slow changes. false: no
 * memory. */
bool lds_dc_lines_out(double *x, double *y, size_t n, size_t first, double rate_hz, double least);

#endif
