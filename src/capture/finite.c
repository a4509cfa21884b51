#include "capture/finite.h"

#include <math.h>
#include <string.h>

/* The exponent field is all ones in an infinity or NaN and in nothing else (IEEE 754), so adding 1 to it carries into
 * the sign bit. Integer code without a branch is what compilers turn into vectors. */
static int all_finite(const double *samples, int64_t count)
{
    uint64_t carry = 0;
    for (int64_t i = 0; i < count; i++) {
        uint64_t bits;
        memcpy(&bits, samples + i, sizeof bits);
        carry |= (bits & UINT64_C(0x7ff0000000000000)) + UINT64_C(0x0010000000000000);
    }
    return !(carry >> 63);
}

int64_t lds_finite_first_bad(const double *samples, int64_t count)
{
    if (all_finite(samples, count))
        return -1;
    int64_t i = 0;
    while (isfinite(samples[i]))
        i++;
    return i;
}
