/* A tone's phasor over a whole capture, in short frames. */
#ifndef LDS_MEASURE_IMPEDANCE_PHASORS_H
#define LDS_MEASURE_IMPEDANCE_PHASORS_H

#include <stddef.h>

#include "loadside/capture.h"

struct lds_phasors {
    size_t count, room;
    double first_s, step_s, frame_s; /* time of the first frame's middle; from frame to frame; length of a frame */
    double *level;                   /* logarithm of the level; NAN: the tone is not there */
    double *phase;                   /* rad, relative to a steady tone of the frequency that fits best */
};

/* channel: from 0. Fails as lds_capture_read does, or without memory. Free with lds_phasors_free in either case. */
enum lds_status lds_phasors_read(struct lds_capture *capture, int channel, double tone_hz, struct lds_phasors *phasors,
                                 struct lds_error *error);
void lds_phasors_free(struct lds_phasors *phasors);

/* The time of a frame, which may be a fraction. */
double lds_phasors_time(const struct lds_phasors *phasors, double frame);

#endif
