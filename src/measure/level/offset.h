/* The output's offset: the mean of the slow stream with tone and hum kept out by a window over each eighth; and how
 * the power of that stream scatters over the eighths. */
#ifndef LDS_MEASURE_LEVEL_OFFSET_H
#define LDS_MEASURE_LEVEL_OFFSET_H

#include <stdbool.h>
#include <stddef.h>

#include "spectrum/density.h"

struct lds_offset {
    double rate_hz;
    double length;   /* samples in an eighth */
    double position; /* samples seen */
    double sum[LDS_BLOCKS], squares[LDS_BLOCKS], weight[LDS_BLOCKS];
    double total, total_squares; /* without weights */
};

void lds_offset_init(struct lds_offset *offset, double rate_hz, double seconds);
void lds_offset_push(struct lds_offset *offset, const double *x, size_t n);
/* Mean over the eighths and its standard uncertainty from their scatter; false when an eighth is empty. */
bool lds_offset_finish(const struct lds_offset *offset, double *mean, double *u);
/* Mean square about its mean of the stream over the eighths, and its standard uncertainty, from their scatter and from
 * what the windows change, which is what a part of a period at the ends does; false when an eighth is empty. */
bool lds_offset_power(const struct lds_offset *offset, double *power, double *u);

#endif
