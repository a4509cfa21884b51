/* The window of a part that is cut from an impulse response: a cosine edge on each side (Tukey 1967; Harris, Proc. IEEE
 * 66, 1978). */
#ifndef LDS_MEASURE_KNOWN_PART_WINDOW_H
#define LDS_MEASURE_KNOWN_PART_WINDOW_H

#include <complex.h>
#include <stddef.h>

#define LDS_PART_EDGE 0.1 /* share of a part on each side over which it fades */

/* length: samples of the part; before: how many of them are before its place. */
struct lds_part_window {
    size_t length, before;
};

/* At sample i of the part, 0 to length - 1. */
double lds_part_window_at(const struct lds_part_window *window, size_t i);

/* The value that a line e^(2 pi i f t), `cycles` a sample above the bin, gives in a transform with time 0 at the part's
 * place. */
double complex lds_part_window_transform(const struct lds_part_window *window, double cycles);

/* A bound of its magnitude that falls with distance. */
double lds_part_window_bound(const struct lds_part_window *window, double cycles);

#endif
