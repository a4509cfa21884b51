/* A step in a course that drifts. */
#ifndef LDS_MEASURE_IMPEDANCE_DRIFT_H
#define LDS_MEASURE_IMPEDANCE_DRIFT_H

#include <stdbool.h>
#include <stddef.h>

enum { LDS_DRIFT_MOST = 96 };

struct lds_drift_course {
    size_t count;                 /* 6 to LDS_DRIFT_MOST */
    double time[LDS_DRIFT_MOST];  /* rising; one unit from point to point, more or less */
    bool stepped[LDS_DRIFT_MOST]; /* whether the point stands on the step */
    double value[LDS_DRIFT_MOST];
};

/* The step by generalised least squares, beside a line, with errors that are independent from point to point and, on
 * top, a drift that is a random walk or an integrated one (a smooth course, as of a cubic spline: Wahba 1978). How
 * strong the drift is, each course tells itself: estimates for many strengths, also none, are averaged by their
 * restricted likelihood (Patterson and Thompson 1971), and u has the variance between them too. From memory, except for
 * what the tests show: how often intervals hold the truth. false: no memory. */
bool lds_drift_step(const struct lds_drift_course *course, double least_u, double *step, double *u);

#endif
