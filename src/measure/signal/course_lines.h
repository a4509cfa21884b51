/* How the strongest line of a capture moves over time, and whether its spectrum stays the same. */
#ifndef LDS_MEASURE_SIGNAL_COURSE_LINES_H
#define LDS_MEASURE_SIGNAL_COURSE_LINES_H

#include <stdbool.h>

#include "measure/signal/course.h"

struct lds_line_course {
    double frequency_hz; /* where it is most often found */
    double stays;        /* share of the frames, without soft ones, in which it is there (or at another_hz) */
    double power_stays;  /* share of the power of these frames in those */
    double share;        /* median share of a frame's power in the line */
    bool sweeps;         /* it crosses the band in one direction, once or repeatedly */
    double from_hz, to_hz;
};

/* another_hz: a second line that may be the stronger one in some frames, or NAN. width_hz: of the line, if it is wide;
 * else 0. false: no memory. */
bool lds_line_course_find(const struct lds_course_result *course, double another_hz, double width_hz,
                          struct lds_line_course *line);

struct lds_spectrum_course {
    double change_db; /* by how much octaves change over the eighths of the capture, beyond what noise does; weighted by
                       * their power */
    double broad;     /* share of the power that is spread like noise, 0..1 */
};

/* Octaves from 88 Hz on. false: no memory. */
bool lds_spectrum_course_find(const struct lds_density *density, struct lds_spectrum_course *spectrum);

#endif
