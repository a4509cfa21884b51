/* Figures of two channels together. */
#ifndef LDS_MEASURE_PAIR_PAIRS_H
#define LDS_MEASURE_PAIR_PAIRS_H

#include "measure/findings.h"
#include "measure/pair/coherence.h"

/* coherence NULL: not measured. false: no memory. */
bool lds_pair_figures(struct lds_pair *pair, const struct lds_findings *a, const struct lds_findings *b,
                      const struct lds_coherence *coherence);

/* capture.identical of every channel, and its flag on all figures of a channel that is a copy of another. */
bool lds_identical_figures(struct lds_measurement *measurement, const struct lds_findings *findings);

#endif
