/* A stated signal in one channel of a capture: where it is, at which clock, and whether all of it is there. */
#ifndef LDS_MEASURE_KNOWN_KNOWN_H
#define LDS_MEASURE_KNOWN_KNOWN_H

#include <stdbool.h>

#include "loadside/signal.h"

struct lds_known {
    const struct lds_signal_spec *spec;
    bool found;
    double match;       /* 0 to 1: how much of the channel's level is the signal, where it was looked for */
    double likeness;    /* 0 to 1: of a tone's envelope to that of the reference */
    double begin;       /* frame of the capture at which the signal proper begins, with its fraction */
    double u_begin;     /* its standard uncertainty, frames */
    double clock_ppm;   /* (rate of the recorder/rate of the player - 1) 1e6; NAN: not known */
    double u_clock_ppm; /* standard uncertainty */
    int inverted;       /* 0, 1; -1: not known */
    double breaks_s;    /* time in the capture at which it breaks off; NAN: it does not */
    double resumes_s;   /* and goes on; NAN: it does not */
};

/* Frames of the recorder for a second of the player. */
static inline double lds_known_frames(const struct lds_known *known, double rate_hz)
{
    return rate_hz * (1.0 + 1e-6 * known->clock_ppm);
}

#endif
