/* Figures of the harmonics. */
#ifndef LDS_MEASURE_TONE_DISTORTION_H
#define LDS_MEASURE_TONE_DISTORTION_H

#include "loadside/series.h"
#include "measure/findings.h"

/* Harmonics, THD, THD+N, SINAD and SNR, or why they are absent. false: no memory. */
bool lds_distortion_figures(struct lds_channel *channel, const struct lds_findings *findings);

/* Appends a row with order, frequency, level and level relative to a power, and the phase where the series has one.
 * false: no memory. */
bool lds_distortion_row(struct lds_series *lines, const struct lds_harmonic *line, double reference_power,
                        const struct lds_findings *findings);

#endif
