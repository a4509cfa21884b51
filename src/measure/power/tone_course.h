/* The level of a tone over the whole capture, in frames short enough to see its steps. */
#ifndef LDS_MEASURE_POWER_TONE_COURSE_H
#define LDS_MEASURE_POWER_TONE_COURSE_H

#include <stdbool.h>
#include <stddef.h>

#include "measure/tone/envelope.h"

struct lds_tone_course {
    struct lds_envelope envelope;
    double frame_s, step_s; /* length of a frame; from one to the next */
    size_t count;
    double complex *value; /* peak amplitude at the middle of each frame, its phase relative to a tone of tone_hz */
};

/* tone_hz: known to some hertz. false: no memory; call lds_tone_course_free all the same. */
bool lds_tone_course_init(struct lds_tone_course *course, double rate_hz, double tone_hz);
bool lds_tone_course_push(struct lds_tone_course *course, const double *x, size_t n);
void lds_tone_course_free(struct lds_tone_course *course);
/* The middle of a frame, seconds from the first sample. */
double lds_tone_course_s(const struct lds_tone_course *course, double frame);
/* Of the frames between two times: mean peak amplitude, and how far the tone's frequency is above tone_hz (mean advance
 * of its phase from frame to frame, weighted for least variance, Kay 1989). NAN: fewer than two frames. */
double lds_tone_course_level(const struct lds_tone_course *course, double from_s, double to_s);
double lds_tone_course_off_hz(const struct lds_tone_course *course, double from_s, double to_s);

#endif
