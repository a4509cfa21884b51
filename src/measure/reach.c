#include <math.h>

#include "constants.h"
#include "loadside/measure.h"

double lds_measure_end_hz(double rate_hz, const struct lds_bench *bench)
{
    return fmin(LDS_USABLE_SHARE * rate_hz, bench->usable_to_hz);
}
