/* How much of a driven channel's tone appears in another channel. */
#ifndef LDS_MEASURE_PAIR_CROSSTALK_H
#define LDS_MEASURE_PAIR_CROSSTALK_H

#include "measure/findings.h"
#include "measure/pair/coherence.h"

/* Adds crosstalk.A-B and crosstalk.B-A of a pair, or the reasons why they are absent. coherence NULL: not measured.
 * false: no memory. */
bool lds_crosstalk_figures(struct lds_pair *pair, const struct lds_findings *a, const struct lds_findings *b,
                           const struct lds_coherence *coherence);

/* Do both have a tone of the same frequency? */
bool lds_share_tone(const struct lds_findings *a, const struct lds_findings *b);

#endif
