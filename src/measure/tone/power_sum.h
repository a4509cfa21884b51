/* The power of several lines together. */
#ifndef LDS_MEASURE_TONE_POWER_SUM_H
#define LDS_MEASURE_TONE_POWER_SUM_H

#include "measure/findings.h"

/* Lines have different noise powers n_k. Their sum is treated as if all had one noise power n that gives the same
 * variance: 2 P n + m n^2 = sum (2 V_k^2 n_k + n_k^2). */
struct lds_power_sum {
    int components;
    double power; /* debiased */
    double variance;
};

void lds_power_sum_add(struct lds_power_sum *sum, const struct lds_harmonic *line);
/* 95 % limits of the power; low is 0 when noise alone explains it. */
void lds_power_sum_limits(const struct lds_power_sum *sum, double *low, double *high);

#endif
