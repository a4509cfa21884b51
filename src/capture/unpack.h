#ifndef LDS_CAPTURE_UNPACK_H
#define LDS_CAPTURE_UNPACK_H

#include <stdbool.h>
#include <stdint.h>

/* Whether packed samples in this machine's byte order can be unpacked here (little-endian machines). */
bool lds_unpack24_fits(void);

/* Converts count packed 24-bit little-endian integers to doubles, full scale 1.0. packed may be the last 3 x count
 * bytes of samples. */
void lds_unpack24(const unsigned char *packed, double *samples, int64_t count);

#endif
