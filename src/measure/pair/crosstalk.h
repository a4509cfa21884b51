/* What a channel shows of the tone that another one is driven with. */
#ifndef LDS_MEASURE_PAIR_CROSSTALK_H
#define LDS_MEASURE_PAIR_CROSSTALK_H

#include "measure/findings.h"
#include "measure/pair/coherence.h"

/* crosstalk.A-B and crosstalk.B-A of a pair, or why they are absent. coherence NULL: not measured. false: no memory. */
bool lds_crosstalk_figures(struct lds_pair *pair, const struct lds_findings *a, const struct lds_findings *b,
                           const struct lds_coherence *coherence);

/* Do both carry a tone of one frequency? */
bool lds_share_tone(const struct lds_findings *a, const struct lds_findings *b);

#endif
