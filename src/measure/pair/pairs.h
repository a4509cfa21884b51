/* Figures of two channels together. */
#ifndef LDS_MEASURE_PAIR_PAIRS_H
#define LDS_MEASURE_PAIR_PAIRS_H

#include "measure/findings.h"
#include "measure/pair/coherence.h"

/* coherence NULL: not measured. false: no memory. */
bool lds_pair_figures(struct lds_pair *pair, const struct lds_findings *a, const struct lds_findings *b,
                      const struct lds_coherence *coherence);

#endif
