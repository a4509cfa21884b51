/* One channel over time: its level in stretches of some 10 ms, and the strongest line of each frame of the audio
 * level. */
#ifndef LDS_MEASURE_SIGNAL_COURSE_H
#define LDS_MEASURE_SIGNAL_COURSE_H

#include <stdbool.h>
#include <stddef.h>

#include "spectrum/cascade.h"

struct lds_course;

struct lds_course_frame {
    double centre_s;     /* from the start of the capture */
    double frequency_hz; /* of the strongest bin above DC */
    double line;         /* mean square of the line there */
    double total;        /* of everything but DC */
};

struct lds_course_result {
    double step_s, start_s; /* of the stretches */
    size_t stretches;
    double *power;         /* mean square of each, without the capture's mean */
    double bin_hz, top_hz; /* of the frames */
    size_t frames;
    struct lds_course_frame *frame;
};

/* NULL: no memory. Memory use does not grow with the length of the capture. */
struct lds_course *lds_course_new(const struct lds_plan *plan);
/* The next n samples of the audio level's stream. */
bool lds_course_push(void *course, const double *x, size_t n);
bool lds_course_frame_push(void *course, const struct lds_frame *frame);
/* start_s: time of the stream's first sample. The arrays in *result belong to the course. */
void lds_course_finish(struct lds_course *course, double start_s, struct lds_course_result *result);
void lds_course_free(void *course);

#endif
