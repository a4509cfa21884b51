/* Figures of a DC voltage, which the recorder's own offset affects. */
#ifndef LDS_MEASURE_LEVEL_DC_FIGURE_H
#define LDS_MEASURE_LEVEL_DC_FIGURE_H

#include "measure/findings.h"

/* Sets a figure from a mean and its standard uncertainty, in the unit of the samples. Without a scale in volts there is
 * only its size in dBFS. */
void lds_dc_figure_set(struct lds_figure *figure, const struct lds_findings *findings, double mean, double u,
                       double dof);
/* The bench's part of the standard uncertainty of a voltage, in the record's unit: calibration and offset. */
double lds_dc_bench_u(const struct lds_findings *findings, double value);
/* Why there are no figures of DC; NULL: the bench says that the input is DC coupled. */
const char *lds_dc_absent(const struct lds_findings *findings);

#endif
