#ifndef LDS_CAPTURE_FINITE_H
#define LDS_CAPTURE_FINITE_H

#include <stdint.h>

/* Index of the first sample that is infinite or not a number, -1 when there is none. */
int64_t lds_finite_first_bad(const double *samples, int64_t count);

#endif
