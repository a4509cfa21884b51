/* Flags that faults of the recording, and what was played, set on figures and harmonics. */
#ifndef LDS_MEASURE_FLAGS_H
#define LDS_MEASURE_FLAGS_H

#include "measure/findings.h"

/* Fills findings->flags and ->harmonic_flags. Everything else must have been found before. */
void lds_flags_find(struct lds_findings *findings);

#endif
