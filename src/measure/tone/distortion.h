/* Figures of the harmonics. */
#ifndef LDS_MEASURE_TONE_DISTORTION_H
#define LDS_MEASURE_TONE_DISTORTION_H

#include "measure/findings.h"

/* Harmonics, THD, THD+N, SINAD and SNR, or why they are absent. false: no memory. */
bool lds_distortion_figures(struct lds_channel *channel, const struct lds_findings *findings);

#endif
