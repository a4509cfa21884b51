/* Parts of an axis over which a change is the same, as far as its noise can tell. */
#ifndef LDS_COMPARE_STRETCHES_H
#define LDS_COMPARE_STRETCHES_H

#include <stdbool.h>
#include <stddef.h>

struct lds_stretch {
    size_t first, last; /* of the values in it */
    double mean;        /* weighted by what each knows */
    double weight;      /* the sum of 1/u^2 */
};

/* Values along an axis with their standard uncertainties, independent of each other; joined[i]: value i touches the one
 * before it. Neighbouring stretches are joined, the most alike first, until those left differ by more than chance.
 * stretch: room for `count`. Returns how many there are, rising. */
size_t lds_stretches_find(const double *value, const double *u, const bool *joined, size_t count,
                          struct lds_stretch *stretch);

#endif
