/* When the amplifier was switched on, from the slow course alone. */
#ifndef LDS_MEASURE_DC_TURN_ON_H
#define LDS_MEASURE_DC_TURN_ON_H

#include <stdbool.h>

#include "measure/dc/stream.h"

struct lds_dc_turn_on {
    bool found;     /* the course leaves where it stood before, for longer than a moment */
    double first_s; /* the first sample that does: early by up to the length of the low-pass */
    double at_s;    /* when half of the rise is done */
    double before;  /* where it stood */
    double step;    /* largest departure in the second after it; without `found`, from the first sample to the end */
    double turns;   /* length of the course's path from there to the end, over its range: 1 for an exponential */
    bool fast;      /* at least half of that departure is reached within half a second */
};

/* least: smaller departures, such as one step of the samples, do not count. */
void lds_dc_turn_on_find(const struct lds_dc_course *course, double least, struct lds_dc_turn_on *found);

#endif
