/* cmocka checks of numbers: not-a-number fails, and a failure shows all three. Include after cmocka.h. */
#ifndef SIM_CHECK_H
#define SIM_CHECK_H

#include <math.h>

#define check_close(value, expected, tolerance)                                                                        \
    sim_check_close((value), (expected), (tolerance), #value, __FILE__, __LINE__)

static inline void sim_check_close(double value, double expected, double tolerance, const char *what, const char *file,
                                   int line)
{
    if (fabs(value - expected) <= tolerance)
        return;
    print_error("%s: %.10g, expected %.10g within %.3g\n", what, value, expected, tolerance);
    _fail(file, line);
}

#endif
