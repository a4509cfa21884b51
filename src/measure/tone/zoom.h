/* The spectrum close to the tone, finer than the levels of the cascade, where the tone's lobe hides everything within
 * seven bins. The frames of one level around the tone, without their windows, are joined into a slow complex stream.
 * Its segments of up to some seconds, with the tone removed, have bins of a fraction of a hertz. */
#ifndef LDS_MEASURE_TONE_ZOOM_H
#define LDS_MEASURE_TONE_ZOOM_H

#include <stdbool.h>

#include "spectrum/cascade.h"

/* One level whose frequencies count from an origin below the tone; the tone is at bin `centre`. */
struct lds_zoom_spectrum {
    struct lds_density density; /* no blocks; the caller sets first and last. levels is 0 when the stream ended before
                                 * the first segment did */
    double reach_hz;            /* to each side of the tone; bins beyond are empty */
    int centre;
    double segment_s;
};

#endif
