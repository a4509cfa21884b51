/* The local density of the noise in one level of a spectrum, regardless of the lines in it. */
#ifndef LDS_MEASURE_NOISE_REFERENCE_H
#define LDS_MEASURE_NOISE_REFERENCE_H

#include <stdbool.h>

#include "spectrum/density.h"

enum {
    LDS_REFERENCE_REACH = 48, /* bins on each side in the running median */
    LDS_REFERENCE_MARGIN = 64 /* bins below a level's first that are computed as well */
};

/* Earlier results for a level. When its lines change, only the nodes near the changes are computed again. All zero: no
 * results yet. */
struct lds_reference_past {
    double *trend;
    unsigned char *taken, *changed;
    struct lds_reference_node *rough, *first, *second;
};

/* false: no memory. */
bool lds_reference_past_make(struct lds_reference_past *past, const struct lds_level *level);
void lds_reference_past_free(struct lds_reference_past *past);

/* Fills reference[0 .. n/2] from lowest to last - 1 (NAN elsewhere), lines included: enough to find how wide they
 * are. */
void lds_reference_rough(struct lds_reference_past *past, const struct lds_level *level, double *reference);
/* The same without the bins whose taken[] is not 0, after the rough one. The result does not depend on the past, which
 * only saves time. */
void lds_reference_find(struct lds_reference_past *past, const struct lds_level *level, const unsigned char *taken,
                        double *reference);

/* Relative standard deviation of the reference at a bin. */
double lds_reference_sd(const struct lds_level *level, const unsigned char *taken, int bin);

#endif
