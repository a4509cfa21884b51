/* The harmonics of the tone on one level: demodulated at k theta(t), where theta is the phase of the fundamental in the
 * same frame, and averaged coherently over the capture. */
#ifndef LDS_MEASURE_TONE_HARMONICS_H
#define LDS_MEASURE_TONE_HARMONICS_H

#include <complex.h>

#include "spectrum/cascade.h"

struct lds_harmonics;

/* Orders first..last on a level of the plan; tone_hz: approximate frequency of the tone. NULL: no memory. */
struct lds_harmonics *lds_harmonics_new(const struct lds_plan_level *level, double tone_hz, int first, int last);
void lds_harmonics_frame(struct lds_harmonics *harmonics, const struct lds_frame *frame);
/* The mean phasor of order k relative to the fundamental's phase: magnitude rms, phase phase_k - k phase_1. k = 1: the
 * mean level of the fundamental itself. 0 without frames. */
double complex lds_harmonics_mean(const struct lds_harmonics *harmonics, int order);
int lds_harmonics_last(const struct lds_harmonics *harmonics); /* highest order */
void lds_harmonics_free(struct lds_harmonics *harmonics);

#endif
