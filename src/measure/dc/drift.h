/* How uncertain means and slow fits are in noise that need not be white: 1/f noise, thermal drift. */
#ifndef LDS_MEASURE_DC_DRIFT_H
#define LDS_MEASURE_DC_DRIFT_H

#include <stddef.h>

/* Of a sequence without trend, such as the residuals of a fit. Each variance is that of a mean times its number of
 * samples. */
struct lds_dc_drift {
    double white; /* from changes between means over about a sixth of a second */
    double slow;  /* at the lowest frequency that the sequence can show, at least `white` */
    double dof;   /* of slow */
};

/* x: n samples. All NAN when there are fewer than 60. */
void lds_dc_drift_find(const double *x, size_t n, struct lds_dc_drift *drift);
/* Standard uncertainty of a mean over `count` of these n samples. */
double lds_dc_drift_mean_u(const struct lds_dc_drift *drift, double count, size_t n);

#endif
