/* The change from one side to the other: its size, interval and p. */
#ifndef LDS_COMPARE_DELTA_H
#define LDS_COMPARE_DELTA_H

#include "compare/reading.h"

struct lds_delta {
    double change, low, high; /* NAN: not known, open */
    double u, dof;            /* of the change; NAN when a side is below the floor */
    double p;                 /* two-sided, of no change */
    double u_data, u_fixed;   /* the part that a longer capture reduces, and the part that it does not; NAN like u */
};

/* u_rep: standard uncertainty from one capture to the next, on the scale; 0: none. shared_bench: the bench's part
 * cancels. from_repeats: Welch's t over the captures of both sides, each of which has a value, instead of u_rep.
 * inverted: the figure falls when the chain adds more. */
struct lds_delta_way {
    double u_rep;
    bool shared_bench, from_repeats, inverted;
};

/* Does the chain alone explain this side? Then the side only limits the amplifier's part from above, and the change is
 * open at one end. */
bool lds_is_hidden(const struct lds_pooled *side);

void lds_delta_find(const struct lds_pooled *before, const struct lds_pooled *after, struct lds_delta_way way,
                    struct lds_delta *delta);

#endif
