/* How far the settled output wanders. */
#ifndef LDS_MEASURE_DC_WANDER_H
#define LDS_MEASURE_DC_WANDER_H

#include "measure/dc/decay.h"

struct lds_dc_wander {
    double range; /* peak to peak from 0.01 to 1 Hz; NAN: shorter than 100 s */
    double below; /* range of the slower part: near the ends the two cannot be told apart */
    double noise; /* rms that white noise adds to it */
};

/* For samples first..n-1 of the course, less the fitted decay. false: no memory. */
bool lds_dc_wander_find(const struct lds_dc_course *course, size_t first, const struct lds_dc_decay *decay,
                        struct lds_dc_wander *wander);

#endif
