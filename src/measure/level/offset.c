#include "measure/level/offset.h"

#include <math.h>
#include <string.h>

#include <gsl/gsl_statistics_double.h>

void lds_offset_init(struct lds_offset *offset, double rate_hz, double seconds)
{
    memset(offset, 0, sizeof *offset);
    offset->rate_hz = rate_hz;
    offset->length = rate_hz * seconds / LDS_BLOCKS;
}

/* Weight sin^4: its side lobes fall by 30 dB an octave, and it costs only two multiplications. */
bool lds_offset_push(void *state, const double *x, size_t n)
{
    struct lds_offset *offset = state;
    for (size_t i = 0; i < n; i++) {
        double place = offset->position++ / offset->length;
        int block = (int)place;
        if (block >= LDS_BLOCKS)
            return true;
        double s = sin(M_PI * (place - block));
        double w = s * s * s * s;
        offset->sum[block] += w * x[i];
        offset->squares[block] += w * x[i] * x[i];
        offset->weight[block] += w;
        offset->total += x[i];
        offset->total_squares += x[i] * x[i];
    }
    return true;
}

bool lds_offset_finish(const struct lds_offset *offset, double *mean, double *u)
{
    double block[LDS_BLOCKS];
    for (int i = 0; i < LDS_BLOCKS; i++) {
        if (offset->weight[i] < 1.0)
            return false;
        block[i] = offset->sum[i] / offset->weight[i];
    }
    *mean = gsl_stats_mean(block, 1, LDS_BLOCKS);
    *u = gsl_stats_sd(block, 1, LDS_BLOCKS) / sqrt(LDS_BLOCKS);
    return true;
}

bool lds_offset_power(const struct lds_offset *offset, double *power, double *u)
{
    double block[LDS_BLOCKS], n = offset->position, mean = offset->total / n;
    for (int i = 0; i < LDS_BLOCKS; i++) {
        if (offset->weight[i] < 1.0)
            return false;
        block[i] = (offset->squares[i] - 2.0 * mean * offset->sum[i]) / offset->weight[i] + mean * mean;
    }
    *power = gsl_stats_mean(block, 1, LDS_BLOCKS);
    double even = offset->total_squares / n - mean * mean;
    *u = hypot(gsl_stats_sd(block, 1, LDS_BLOCKS) / sqrt(LDS_BLOCKS), *power - even);
    return true;
}
