/* The spectrum close beside the tone, finer than the levels of the cascade show it: there the lobe of the tone hides
 * all within seven bins. The frames of one level, put together again about the tone and without their windows, are a
 * slow complex stream; its segments of up to some seconds, tone taken out, give bins of a fraction of a hertz. */
#ifndef LDS_MEASURE_TONE_ZOOM_H
#define LDS_MEASURE_TONE_ZOOM_H

#include <stdbool.h>

#include "spectrum/cascade.h"

struct lds_zoom;

/* level: whose frames it is fed with; the tone stands on it. seconds of that level's stream. false: no memory. *zoom
 * stays NULL where the stream is too short for a segment. */
bool lds_zoom_new(const struct lds_plan_level *level, double seconds, double tone_hz, struct lds_zoom **zoom);
void lds_zoom_frame(struct lds_zoom *zoom, const double complex *spectrum);
void lds_zoom_free(struct lds_zoom *zoom);

/* One level, whose frequencies count from `origin_hz` below the tone: the tone stands at bin `centre`. */
struct lds_zoom_spectrum {
    struct lds_density density; /* no blocks; first and last are the caller's to set */
    double reach_hz;            /* to each side of the tone; bins beyond hold nothing */
    int centre;
    double segment_s;
};

/* Ends the pass. false: no memory. density.levels is 0 when the stream ended before the first segment did. The caller
 * frees density with lds_density_free. */
bool lds_zoom_finish(struct lds_zoom *zoom, struct lds_zoom_spectrum *spectrum);

#endif
