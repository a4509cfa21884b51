/* The output's slow course: low-passed at 10 Hz without delay, some 100 samples a second. */
#ifndef LDS_MEASURE_DC_STREAM_H
#define LDS_MEASURE_DC_STREAM_H

#include <stdbool.h>
#include <stddef.h>

struct lds_dc_stream; /* running state; grows by some 100 numbers for each second of the capture */

/* The course itself: x[i] at start_s + i * step_s, in the unit of the samples. */
struct lds_dc_course {
    const double *x;
    size_t n;
    double start_s, step_s;
};

/* rate_hz, start_s: of the slow stream that is pushed, and the time of its first sample. seconds: of the capture. NULL:
 * no memory. */
struct lds_dc_stream *lds_dc_stream_new(double rate_hz, double start_s, double seconds);
/* The next n samples of the slow stream. Always true. */
bool lds_dc_stream_push(struct lds_dc_stream *stream, const double *x, size_t n);
/* The course so far; valid until the next push. */
struct lds_dc_course lds_dc_stream_course(const struct lds_dc_stream *stream);
void lds_dc_stream_free(struct lds_dc_stream *stream);

/* The value at a time, on a straight line between samples; beyond the ends that of the end. */
double lds_dc_course_at(const struct lds_dc_course *course, double at_s);
/* The first sample at or after a time; n when there is none. */
size_t lds_dc_course_index(const struct lds_dc_course *course, double at_s);
double lds_dc_course_time(const struct lds_dc_course *course, size_t i);

/* Gain of the low-pass at a frequency (for tests). */
double lds_dc_stream_gain(double hz);

#endif
