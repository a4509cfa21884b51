/* Curves for plots. */
#ifndef LDS_MEASURE_CURVES_H
#define LDS_MEASURE_CURVES_H

#include <stdbool.h>

#include "measure/findings.h"

/* Spectrum (level of a bin, reduced to the highest in each of some thousand steps) and density (mean in each step) from
 * the slowest bins to the end of the capture. false: no memory. */
bool lds_spectrum_curves(struct lds_channel *channel, const struct lds_findings *findings);

#endif
