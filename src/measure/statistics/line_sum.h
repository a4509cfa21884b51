/* The level of one or several lines relative to another, each measured in a noise of its own. */
#ifndef LDS_MEASURE_STATISTICS_LINE_SUM_H
#define LDS_MEASURE_STATISTICS_LINE_SUM_H

/* One line relative to the reference: its raw power, and the power of its noise, estimated with `dof` degrees of
 * freedom. */
struct lds_line_ratio {
    double raw, noise, dof;
};

/* dB re the reference, with the 95 % interval. Not above its noise: value, low and u are NAN, high is the upper limit.
 */
struct lds_line_level {
    double value, low, high;
    double u, dof;
};

/* The sum of `count` >= 1 lines. Their noise powers differ; one common noise power that gives the sum the same variance
 * takes their place. A t factor widens it where it is estimated with few degrees of freedom. */
struct lds_line_level lds_line_sum(const struct lds_line_ratio *ratio, int count);

#endif
