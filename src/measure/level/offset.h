/* The output's offset: the mean of the slow stream, with tone and hum suppressed by a window over each eighth; and the
 * scatter of that stream's power over the eighths. */
#ifndef LDS_MEASURE_LEVEL_OFFSET_H
#define LDS_MEASURE_LEVEL_OFFSET_H

#include <stdbool.h>
#include <stddef.h>

#include "spectrum/density.h"

struct lds_offset {
    double rate_hz;
    double length;   /* samples in an eighth */
    double position; /* samples so far */
    double sum[LDS_BLOCKS], squares[LDS_BLOCKS], weight[LDS_BLOCKS];
    double total, total_squares; /* without weights */
};

void lds_offset_init(struct lds_offset *offset, double rate_hz, double seconds);
bool lds_offset_push(void *offset, const double *x, size_t n);
/* Mean over the eighths, and its standard uncertainty from their scatter; false when an eighth is empty. */
bool lds_offset_finish(const struct lds_offset *offset, double *mean, double *u);
/* Mean square of the stream about its mean, over the eighths. Its standard uncertainty is from their scatter and from
 * the change that the windows make, which shows the effect of an incomplete period at the ends. false when an eighth is
 * empty. */
bool lds_offset_power(const struct lds_offset *offset, double *power, double *u);

#endif
