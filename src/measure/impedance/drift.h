/* A step in a course that drifts. */
#ifndef LDS_MEASURE_IMPEDANCE_DRIFT_H
#define LDS_MEASURE_IMPEDANCE_DRIFT_H

#include <stdbool.h>
#include <stddef.h>

enum { LDS_DRIFT_MOST = 96 };

struct lds_drift_course {
    size_t count;                 /* 6 to LDS_DRIFT_MOST */
    double time[LDS_DRIFT_MOST];  /* rising; about one unit from point to point */
    bool stepped[LDS_DRIFT_MOST]; /* whether the step is added at the point */
    double value[LDS_DRIFT_MOST];
};

/* The step by generalised least squares, beside a line, with errors that are independent from point to point and, on
 * top, a drift that is a random walk or an integrated one (a smooth course, as of a cubic spline: Wahba 1978). The
 * strength of the drift follows from the course itself: estimates for many strengths, zero among them, are averaged
 * with their restricted likelihoods as weights (Patterson and Thompson 1971), and u includes the variance between them.
 * From memory; the tests check how often the intervals hold the truth. false: no memory. */
bool lds_drift_step(const struct lds_drift_course *course, double least_u, double *step, double *u);

#endif
