/* Channels that hold no signal of their own: copies or inverses of another channel, and dead ones. */
#ifndef LDS_MEASURE_PAIR_IDENTICAL_H
#define LDS_MEASURE_PAIR_IDENTICAL_H

#include "measure/findings.h"

/* Fills findings[0..count)->identical, from the samples' sums of all channels measured. */
void lds_identical_find(struct lds_findings *findings, size_t count);

#endif
