/* The list of problems, of the recording and of the amplifier. */
#ifndef LDS_MEASURE_HEALTH_PROBLEMS_H
#define LDS_MEASURE_HEALTH_PROBLEMS_H

#include "measure/findings.h"

/* Fills findings->problem and ->gaps, once the jumps of the tone are known. false: no memory. */
bool lds_problems_find(struct lds_findings *findings);

#endif
