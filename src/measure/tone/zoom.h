/* The spectrum close to the tone, finer than the levels of the cascade, where the tone's lobe hides everything within
 * seven bins. The frames of one level around the tone, without their windows, are joined into a slow complex stream.
 * Its segments of up to some seconds, with the tone removed, have bins of a fraction of a hertz. */
#ifndef LDS_MEASURE_TONE_ZOOM_H
#define LDS_MEASURE_TONE_ZOOM_H

#include <stdbool.h>

#include "spectrum/cascade.h"

struct lds_zoom;

/* level: its frames are fed in; the tone must be on it. seconds: length of that level's stream. false: no memory. *zoom
 * stays NULL where the stream is too short for a segment. */
bool lds_zoom_new(const struct lds_plan_level *level, double seconds, double tone_hz, struct lds_zoom **zoom);
void lds_zoom_frame(struct lds_zoom *zoom, const double complex *spectrum);
void lds_zoom_free(struct lds_zoom *zoom);

/* One level whose frequencies count from an origin below the tone; the tone is at bin `centre`. */
struct lds_zoom_spectrum {
    struct lds_density density; /* no blocks; the caller sets first and last */
    double reach_hz;            /* to each side of the tone; bins beyond are empty */
    int centre;
    double segment_s;
};

/* Ends the pass. false: no memory. density.levels is 0 when the stream ended before the first segment did. Free density
 * with lds_density_free. */
bool lds_zoom_finish(struct lds_zoom *zoom, struct lds_zoom_spectrum *spectrum);

#endif
