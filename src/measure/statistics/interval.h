/* The 95 % interval of the power in a band of noise. */
#ifndef LDS_MEASURE_STATISTICS_INTERVAL_H
#define LDS_MEASURE_STATISTICS_INTERVAL_H

#include <stdbool.h>

#include "measure/spurs/lines.h"

/* x below which a chi-square with dof > 0 degrees of freedom lies with this probability, over dof. GSL's own inverse
 * does not converge for some thousands of degrees of freedom. */
double lds_chi_square_quantile(double probability, double dof);

/* Chi-square with the spectrum's own degrees of freedom, unless the 8 blocks scatter more than those allow (1 % test):
 * then Student's t with 7 from the blocks, and *unsteady. Gives standard uncertainty, degrees of freedom and limits of
 * the mean square; a limit is never negative. */
void lds_band_interval(const struct lds_band_power *band, double *u_power, double *dof, double *low_power,
                       double *high_power, bool *unsteady);

#endif
