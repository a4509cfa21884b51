/* Figures of two channels from a sweep: the balance of two that are driven, and the crosstalk over frequency from a
 * driven one to one that is not. */
#ifndef LDS_MEASURE_KNOWN_SWEEP_PAIRS_H
#define LDS_MEASURE_KNOWN_SWEEP_PAIRS_H

#include "measure/asked.h"
#include "measure/known/transfer.h"

/* The transfer from what was played to each channel, at the same frequencies. */
struct lds_sweep_side {
    struct lds_transfer transfer; /* no points: the channel was not measured */
    bool driven;
};

/* side: of each channel asked for. Adds to the pairs of the measurement. false: no memory. */
bool lds_sweep_pairs(const struct lds_asked *asked, const struct lds_sweep_side *side,
                     struct lds_measurement *measurement);

#endif
