#include <math.h>

#include "loadside/measure.h"

double lds_measure_end_hz(double rate_hz, const struct lds_bench *bench)
{
    return fmin(0.45 * rate_hz, bench->usable_to_hz);
}
