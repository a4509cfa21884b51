/* The noise to be expected where lines are. */
#ifndef LDS_MEASURE_NOISE_FILL_H
#define LDS_MEASURE_NOISE_FILL_H

#include "measure/spurs/lines.h"

/* Fills floor->filled and floor->gap from floor->taken. false: no memory. */
bool lds_floor_fill(struct lds_floor *floor);

#endif
