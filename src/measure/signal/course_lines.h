/* What the strongest line of a capture does in time, and whether its spectrum stays the same. */
#ifndef LDS_MEASURE_SIGNAL_COURSE_LINES_H
#define LDS_MEASURE_SIGNAL_COURSE_LINES_H

#include <stdbool.h>

#include "measure/signal/course.h"

struct lds_line_course {
    double frequency_hz; /* where it is strongest */
    double stays;        /* share of the frames, those that are not soft, in which it stands there (or at another_hz) */
    double power_stays;  /* share of the power of the frames that is in those */
    double share;        /* of the power of those frames in it, the median */
    bool sweeps;         /* it goes one way through the band, once or again and again */
    double from_hz, to_hz;
};

/* another_hz: NAN, or a second line that may be the stronger one in some frames. width_hz: of the line, where it is
 * wide; else 0. false: no memory. */
bool lds_line_course_find(const struct lds_course_result *course, double another_hz, double width_hz,
                          struct lds_line_course *line);

struct lds_spectrum_course {
    double change_db; /* by which octaves change over the eighths of the capture, more than noise would; weighed by
                       * their power */
    double broad;     /* share of the power that is spread as noise is, 0..1 */
};

/* Octaves from 88 Hz on. false: no memory. */
bool lds_spectrum_course_find(const struct lds_density *density, struct lds_spectrum_course *spectrum);

#endif
