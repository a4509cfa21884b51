/* The figures of DC behaviour, and the series. */
#ifndef LDS_MEASURE_DC_FIGURES_H
#define LDS_MEASURE_DC_FIGURES_H

#include "measure/findings.h"

/* Appends them, or why they are absent. false: no memory. */
bool lds_dc_figures(struct lds_channel *channel, const struct lds_findings *findings);

#endif
