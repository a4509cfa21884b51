/* From findings to the record. */
#ifndef LDS_MEASURE_FIGURES_H
#define LDS_MEASURE_FIGURES_H

#include <stdbool.h>

#include "measure/findings.h"

/* Sets what is known before the pass: options, scale, scout, and what is driven, which is not copied. */
void lds_findings_begin(struct lds_findings *findings, const struct lds_measure_options *options,
                        const struct lds_capture_info *info, const struct lds_scout *scout,
                        const struct lds_driven *driven);

/* All figures, lines, problems and curves of a channel. false: no memory. */
bool lds_channel_figures(struct lds_channel *channel, const struct lds_findings *findings);

#endif
