/* The lines of a channel's spectrum, found in this order: tone and harmonics, mains orders, then everything else. */
#ifndef LDS_MEASURE_SPURS_KNOWN_H
#define LDS_MEASURE_SPURS_KNOWN_H

#include <stdbool.h>

#include "measure/findings.h"

/* Noise power of a line averaged coherently over the capture: n_k = S(f) x line noise bandwidth. */
double lds_known_noise_power(const struct lds_findings *findings, double frequency_hz);

/* The harmonic of this channel's own tone whose lobe covers a frequency; 0: none. */
int lds_known_own_order(const struct lds_findings *findings, double frequency_hz);

/* Fills in noise, hum and detection of a line whose frequency and phasor are known, once the floor is known.
 * noise_power: of that phasor before the bench's response was divided out. */
void lds_known_judge(const struct lds_findings *findings, double noise_power, struct lds_harmonic *line);

/* Hum on a mains order so close to a frequency that a line there cannot be told from it. */
struct lds_known_hum {
    int order;
    double power, high; /* mean squares: the hum to expect there, and its upper limit */
};

/* false: there is none. */
bool lds_known_hum_at(const struct lds_findings *findings, double frequency_hz, struct lds_known_hum *hum);

#endif
