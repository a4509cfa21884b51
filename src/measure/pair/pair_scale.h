/* What a level in one channel is re the same in the other, where their benches differ. */
#ifndef LDS_MEASURE_PAIR_PAIR_SCALE_H
#define LDS_MEASURE_PAIR_PAIR_SCALE_H

#include "measure/findings.h"

struct lds_pair_scale {
    double db;   /* to be added to the ratio of samples, second channel re first */
    double u_db; /* its standard uncertainty: 0 where both have one bench, whose limits cancel */
};

#define LDS_PAIR_UNLIKE "one channel is calibrated and the other is not"

/* At a frequency. false: one channel is calibrated and the other is not. */
bool lds_pair_scale(const struct lds_pair *pair, const struct lds_findings *a, const struct lds_findings *b,
                    double frequency_hz, struct lds_pair_scale *scale);

#endif
