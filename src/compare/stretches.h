/* Stretches of an axis with the same change, within its noise. */
#ifndef LDS_COMPARE_STRETCHES_H
#define LDS_COMPARE_STRETCHES_H

#include <stdbool.h>
#include <stddef.h>

struct lds_stretch {
    size_t first, last; /* of the values in it */
    double mean;        /* with statistical weights */
    double weight;      /* the sum of 1/u^2 */
    bool touches;       /* the one before it */
};

/* Joins neighbouring stretches that touch, the most similar first, until those left differ by more than chance. Each
 * starts as one value, independent of the others. Returns how many are left, in order. */
size_t lds_stretches_join(struct lds_stretch *stretch, size_t count);

#endif
