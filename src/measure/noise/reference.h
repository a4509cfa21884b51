/* The local density of the noise in one level of a spectrum, regardless of the lines in it. */
#ifndef LDS_MEASURE_NOISE_REFERENCE_H
#define LDS_MEASURE_NOISE_REFERENCE_H

#include <stdbool.h>

#include "spectrum/density.h"

enum {
    LDS_REFERENCE_REACH = 48, /* bins on each side in the running median */
    LDS_REFERENCE_MARGIN = 64 /* bins below a level's first that are computed as well */
};

/* Fills reference[0 .. n/2] from lowest to last - 1 (NAN elsewhere), leaving out the bins whose taken[] is not 0.
 * quick: one pass only, enough to find how wide lines are. scratch holds n/2 + 1. */
void lds_reference_find(const struct lds_level *level, const unsigned char *taken, bool quick, double *reference,
                        double *scratch);

/* Relative standard deviation of the reference at a bin. */
double lds_reference_sd(const struct lds_level *level, const unsigned char *taken, int bin);

#endif
