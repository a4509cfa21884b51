/* Flags that what was played puts on figures. */
#ifndef LDS_MEASURE_FIGURES_H
#define LDS_MEASURE_FIGURES_H

#include "measure/findings.h"

void lds_signal_flags(struct lds_channel *channel, const struct lds_findings *findings);

#endif
