/* How the level of a capture changes over time. */
#ifndef LDS_MEASURE_SIGNAL_COURSE_LEVELS_H
#define LDS_MEASURE_SIGNAL_COURSE_LEVELS_H

#include <stdbool.h>

#include "measure/signal/course.h"

enum lds_levels_kind {
    LDS_LEVELS_WHOLE,  /* there from beginning to end, steady or drifting */
    LDS_LEVELS_PART,   /* there in one part, with silence around it */
    LDS_LEVELS_BURSTS, /* on and off, or loud and soft, alternately */
    LDS_LEVELS_STEPS,  /* at least three plateaus */
};

struct lds_levels {
    enum lds_levels_kind kind;
    double from_s, to_s; /* where it is on, the outer ends */
    double longest_s;    /* longest time that it is on without a break */
    int count;           /* of bursts or plateaus */
};

/* frequency_hz: of the tone whose level it is; changes within a few of its periods do not count. false: no memory. */
bool lds_levels_find(const struct lds_course_result *course, double frequency_hz, struct lds_levels *levels);

#endif
