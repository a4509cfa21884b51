/* Exponentials fitted to the slow course: a + b exp(-t/tau), or with a second one. */
#ifndef LDS_MEASURE_DC_DECAY_H
#define LDS_MEASURE_DC_DECAY_H

#include <stdbool.h>

#include "measure/dc/drift.h"
#include "measure/dc/stream.h"

enum { LDS_DC_DECAYS = 2 };

struct lds_dc_decay {
    int terms;                   /* 0: a constant alone fits as well */
    size_t first;                /* sample at which the fit begins */
    double a, b[LDS_DC_DECAYS];  /* b at that sample */
    double tau_s[LDS_DC_DECAYS]; /* the faster first */
    double u_log[LDS_DC_DECAYS]; /* standard uncertainty of ln tau */
    struct lds_dc_drift drift;   /* of the residuals */
};

/* Fits samples first..n-1 of the course with no exponential, one, or at most `terms`: each further one only where it
 * fits better by an F test at 1 %, against the residuals at low frequencies. false: no memory. */
bool lds_dc_decay_fit(const struct lds_dc_course *course, size_t first, int terms, struct lds_dc_decay *decay);
/* The value of the fit at a sample. */
double lds_dc_decay_at(const struct lds_dc_decay *decay, const struct lds_dc_course *course, size_t i);

/* Its mean from one time in the capture to another. */
double lds_dc_decay_mean(const struct lds_dc_decay *decay, const struct lds_dc_course *course, double from_s,
                         double to_s);

#endif
