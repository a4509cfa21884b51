#include "capture/reader.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

/* The exponent field of a double grows with the number, and is all ones in an infinity or NaN (IEEE 754). 2^100 has the
 * field 0x463: for it and everything above, adding 0x800 - 0x463 carries into the sign bit. Compilers turn integer code
 * without branches into vector code. */
static int all_fit(const double *samples, int64_t count)
{
    uint64_t carry = 0;
    for (int64_t i = 0; i < count; i++) {
        uint64_t bits;
        memcpy(&bits, samples + i, sizeof bits);
        carry |= (bits & UINT64_C(0x7ff0000000000000)) + ((UINT64_C(0x800) - UINT64_C(0x463)) << 52);
    }
    return !(carry >> 63);
}

bool lds_finite_is_sample(double value)
{
    return fabs(value) < LDS_SAMPLE_LIMIT;
}

int64_t lds_finite_first_bad(const double *samples, int64_t count)
{
    if (all_fit(samples, count))
        return -1;
    int64_t i = 0;
    while (lds_finite_is_sample(samples[i]))
        i++;
    return i;
}

const char *lds_finite_fault(double value, char *text, size_t size)
{
    if (isnan(value))
        return "not a number";
    if (isinf(value))
        return "infinite";
    snprintf(text, size, "%.0e, which no converter or probe can give", value);
    return text;
}
