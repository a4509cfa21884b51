/* The plateaus of a tone that steps in level: found, not assumed. */
#ifndef LDS_MEASURE_POWER_PLATEAUS_H
#define LDS_MEASURE_POWER_PLATEAUS_H

#include <stdbool.h>
#include <stddef.h>

#include "measure/power/tone_course.h"

enum { LDS_PLATEAUS_LEAST = 3 }; /* that make a staircase */

struct lds_plateau_span {
    double from_s, to_s;             /* from step to step, seconds from the first sample */
    double inner_from_s, inner_to_s; /* where the level is steady */
    double amplitude;                /* peak */
};

struct lds_plateaus {
    size_t count;
    struct lds_plateau_span *span; /* in order of time */
    double noise;                  /* standard deviation of a frame's amplitude */
};

/* Steps of 0.04 dB and six times the noise are found. Where most plateaus have the same length, one whose length is a
 * multiple of that is cut into as many, since an amplifier that limits hides the steps. hold_s: how long each is held,
 * if that is known, else NAN. false: no memory; free plateaus->span with free(). */
bool lds_plateaus_find(const struct lds_tone_course *course, double hold_s, struct lds_plateaus *plateaus);

#endif
