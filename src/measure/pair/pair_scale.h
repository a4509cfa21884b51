/* What the benches of two channels add to the ratio of their levels. */
#ifndef LDS_MEASURE_PAIR_PAIR_SCALE_H
#define LDS_MEASURE_PAIR_PAIR_SCALE_H

#include <stdbool.h>

#include "loadside/bench.h"

struct lds_pair_scale {
    double db;   /* to be added to the ratio of samples, second channel re first */
    double u_db; /* its standard uncertainty: 0 where both have one bench, whose limits cancel */
};

#define LDS_PAIR_UNLIKE "one channel is calibrated and the other is not"

/* At a frequency, of the pair of channels with these numbers. false: one channel is calibrated and the other is not. */
bool lds_pair_scale(const struct lds_bench *bench, const int channels[2], const bool calibrated[2], bool in_volts,
                    double frequency_hz, struct lds_pair_scale *scale);

#endif
