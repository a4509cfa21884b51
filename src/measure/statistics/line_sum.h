/* The level of one or several lines relative to another, each measured in a noise of its own. */
#ifndef LDS_MEASURE_STATISTICS_LINE_SUM_H
#define LDS_MEASURE_STATISTICS_LINE_SUM_H

/* Of one line, relative to the reference: its raw power, and that of its noise, which is estimated with `dof` degrees
 * of freedom. */
struct lds_line_ratio {
    double raw, noise, dof;
};

/* dB re the reference, with the 95 % interval. Not above its noise: value, low and u are NAN, high is the upper limit.
 */
struct lds_line_level {
    double value, low, high;
    double u, dof;
};

/* The sum of `count` >= 1 lines. Each has a noise of its own; one that gives the sum the same variance stands for them.
 * A t factor widens what few degrees of freedom know of the noise. */
struct lds_line_level lds_line_sum(const struct lds_line_ratio *ratio, int count);

#endif
