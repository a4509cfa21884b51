/* Lines close to the tone, which its lobe hides in the levels of the spectrum, and the noise there. */
#ifndef LDS_MEASURE_TONE_BESIDE_TONE_H
#define LDS_MEASURE_TONE_BESIDE_TONE_H

#include <stdbool.h>

#include "measure/spurs/spurs.h"
#include "measure/tone/zoom.h"

struct lds_beside_tone {
    bool usable;                /* false: the capture is too short, or the tone too low, to look this close */
    struct lds_floor_zoom zoom; /* covers low_hz to high_hz */
    double searched_hz[2];      /* the levels need not be searched for lines here */
    struct lds_spur_list spurs; /* in that stretch, without those that belong to the fundamental */
};

/* Looks between the fundamental (within own_hz of the tone) and the frequencies where the levels see clearly. known:
 * tone, harmonics and mains orders. spectrum must outlive *beside. false: no memory. Free *beside with
 * lds_beside_tone_free. */
bool lds_beside_tone_find(struct lds_zoom_spectrum *spectrum, const struct lds_density *density, double tone_hz,
                          double own_hz, const struct lds_lines *known, struct lds_beside_tone *beside);
void lds_beside_tone_free(struct lds_beside_tone *beside);

/* Whether the levels' floor, which bridges the tone, would miss something there: lines, or noise of another density. */
bool lds_beside_tone_matters(const struct lds_beside_tone *beside, const struct lds_floor *floor);

#endif
