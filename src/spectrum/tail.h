/* The exact tail of one bin of a Welch average of Gaussian noise. Overlapped frames are correlated, so the average is a
 * sum of exponentials of unequal size, and its tail is heavier than that of the chi-square with the same variance. */
#ifndef LDS_SPECTRUM_TAIL_H
#define LDS_SPECTRUM_TAIL_H

#include <stdbool.h>

enum { LDS_TAIL_TERMS = 32 };

/* Q = sum scale[i] G_i, G_i Gamma distributed with shape[i] and scale 1; the mean of Q is 1. */
struct lds_tail {
    int terms;
    bool distinct; /* every shape is 1, and the scales are few and distinct: the sum has a closed form */
    double scale[LDS_TAIL_TERMS];
    double shape[LDS_TAIL_TERMS];
};

/* frames >= 1 of the analysis window, each hop_share of its length after the previous one (0.25: 75 % overlap). false:
 * no memory. */
bool lds_tail_init(struct lds_tail *tail, int frames, double hop_share);

/* Probability that a bin exceeds `ratio` times the true density, ratio >= 0. */
double lds_tail_probability(const struct lds_tail *tail, double ratio);

/* The ratio to an estimated floor that a bin of noise exceeds with this probability (0 < p < 0.5). The floor's own
 * relative standard deviation floor_sd (0: known exactly; limited to 0.3) makes it larger. */
double lds_tail_threshold(const struct lds_tail *tail, double probability, double floor_sd);

#endif
