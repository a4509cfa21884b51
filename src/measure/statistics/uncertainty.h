/* Standard uncertainties and 95 % intervals (JCGM 100:2008, "GUM"). */
#ifndef LDS_MEASURE_STATISTICS_UNCERTAINTY_H
#define LDS_MEASURE_STATISTICS_UNCERTAINTY_H

#include "loadside/measurement.h"

/* Half-width of a 95 % interval in standard uncertainties: Student's t for few degrees of freedom (GUM annex G). */
double lds_coverage(double dof);

/* value +- k u_a, in the figure's unit. */
void lds_figure_set_normal(struct lds_figure *figure, double value, double u_a, double dof);

/* Puts the bench's standard uncertainty u_b (in the figure's unit) into the figure and widens its limits by
 * root-sum-square. */
void lds_figure_add_bench(struct lds_figure *figure, double u_b);

/* The bench's relative uncertainty of a level, from calibration limits +-a: u = a/sqrt(3) (GUM 4.3.7). */
double lds_bench_level_u(const struct lds_bench *bench);

/* Exact 95 % limits of the mean of a Poisson count (Garwood 1936): chi-square quantiles over two. */
void lds_poisson_limits(double count, double *low, double *high);

/* A power ratio in dB, -INFINITY for 0. */
double lds_power_db(double power);

#endif
