/* Where the spectrum of two tones has lines that are neither hum nor spurs. */
#ifndef LDS_MEASURE_INTERMODULATION_SUSPECTED_H
#define LDS_MEASURE_INTERMODULATION_SUSPECTED_H

#include "measure/findings.h"

/* Adds the second tone, its harmonics and the products, which are looked for in the spectrum, to the known lines.
 * tone_hz: of the tones, the lower first. first: which of them is known already, with its harmonics. wander: half-width
 * of their frequencies, relative. false: no memory. */
bool lds_suspect_products(struct lds_findings *findings, const double tone_hz[2], int first, double wander);

#endif
