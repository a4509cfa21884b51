/* Two-level ("popcorn", burst or random telegraph) noise: steps of one size up and down in the slow stream. */
#ifndef LDS_MEASURE_NOISE_POPCORN_H
#define LDS_MEASURE_NOISE_POPCORN_H

#include <stdbool.h>
#include <stddef.h>

struct lds_popcorn;

struct lds_popcorn_result {
    bool usable;         /* at least two seconds were analysed */
    bool found;          /* at least three steps of one size, alternately up and down */
    double step, u_step; /* full-scale units, peak */
    double least;        /* a step of this size would have been seen */
    size_t steps;
};

/* rate_hz of the slow stream. NULL: no memory. */
struct lds_popcorn *lds_popcorn_new(double rate_hz);
bool lds_popcorn_push(void *popcorn, const double *x, size_t n);
/* false: no memory. */
bool lds_popcorn_finish(const struct lds_popcorn *popcorn, struct lds_popcorn_result *result);
void lds_popcorn_free(void *popcorn);

#endif
