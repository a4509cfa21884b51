/* The rate of a time column, and whether its steps are even. */
#ifndef LDS_CAPTURE_STEADY_H
#define LDS_CAPTURE_STEADY_H

#include <stdint.h>

struct lds_instant {
    double s;
    double quantum; /* s: weight of the last digit written */
};

struct lds_steady {
    double rate_hz;
    double start_s;             /* the fitted time of row 0 */
    int64_t unsteady_row;       /* from 0; -1: none */
    double found_s, expected_s; /* the step to that row */
};

/* fd: holds count >= 2 instants from its start. Returns 0, or errno when they cannot be read. */
int lds_steady_check(int fd, int64_t count, struct lds_steady *steady);

#endif
