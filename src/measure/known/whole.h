/* Whether all of a stated signal is there. */
#ifndef LDS_MEASURE_KNOWN_WHOLE_H
#define LDS_MEASURE_KNOWN_WHOLE_H

#include "measure/known/blocks.h"

/* Sets breaks_s and resumes_s of a sweep or noise that was found: where it is cut off, or drops out. What an amplifier
 * does (a falling response, distortion, clipping) does not count. */
void lds_whole_sweep(const struct lds_stretch *stretch, struct lds_known *known);
void lds_whole_noise(const struct lds_stretch *stretch, struct lds_known *known);

#endif
