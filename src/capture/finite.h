#ifndef LDS_CAPTURE_FINITE_H
#define LDS_CAPTURE_FINITE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* No sample is as large, in full scales or in volts: 2^100, some 1e30. Sums of fourth powers stay far from overflow. */
#define LDS_SAMPLE_LIMIT 0x1p100

/* Finite, and below the limit. */
bool lds_finite_is_sample(double value);
/* Index of the first value that is no sample, -1 when there is none. */
int64_t lds_finite_first_bad(const double *samples, int64_t count);
/* What such a value is, for an error: "not a number", ...; may be written in text, which has room for 64. */
const char *lds_finite_fault(double value, char *text, size_t size);

#endif
