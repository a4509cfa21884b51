/* Lines in the frames of one level: one at a time, and the frequency of a tone from frame to frame. */
#ifndef LDS_MEASURE_TONE_FRAME_LINE_H
#define LDS_MEASURE_TONE_FRAME_LINE_H

#include <complex.h>

#include "spectrum/cascade.h"

struct lds_frame_lines {
    const struct lds_plan_level *level;
    double scale; /* from |X| to the rms of a sine: sqrt(2)/sum w */
};

void lds_frame_lines_init(struct lds_frame_lines *lines, const struct lds_plan_level *level);

/* The line at frequency_hz in this frame: magnitude rms, phase at the frame's centre. 0 outside the level. */
double complex lds_frame_line(const struct lds_frame_lines *lines, const struct lds_frame *frame, double frequency_hz);

/* A tone that is followed from frame to frame. */
struct lds_frame_tone {
    double tone_hz; /* approximate; the caller sets it */
    int frames;
    double last_s, phase; /* the centre of the last frame, and its phase there */
};

/* Its frequency in this frame, from the phase by which it has advanced since the previous one. */
double lds_frame_tone_follow(struct lds_frame_tone *tone, const struct lds_frame_lines *lines,
                             const struct lds_frame *frame);

#endif
