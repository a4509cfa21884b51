#ifndef LDS_CAPTURE_FINITE_H
#define LDS_CAPTURE_FINITE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* Samples must be smaller than this, in full scales or in volts: 2^100, about 1e30. Sums of fourth powers then stay far
 * from overflow. */
#define LDS_SAMPLE_LIMIT 0x1p100

/* Finite, and below the limit. */
bool lds_finite_is_sample(double value);
/* Index of the first invalid value, -1 when there is none. */
int64_t lds_finite_first_bad(const double *samples, int64_t count);
/* Describes such a value for an error: "not a number", ...; may be written to text, which has room for 64. */
const char *lds_finite_fault(double value, char *text, size_t size);

#endif
