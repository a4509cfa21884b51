/* Response from periodic noise. */
#ifndef LDS_MEASURE_KNOWN_KNOWN_NOISE_H
#define LDS_MEASURE_KNOWN_KNOWN_NOISE_H

#include "loadside/bench.h"
#include "measure/known/blocks.h"

/* false: no memory. */
bool lds_known_noise(const struct lds_stretch *stretch, const struct lds_known *known, const struct lds_bench *bench,
                     struct lds_channel *channel);

#endif
