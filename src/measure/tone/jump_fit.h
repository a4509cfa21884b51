/* Jumps of a tone's phase in a short stretch of samples, by least squares. */
#ifndef LDS_MEASURE_TONE_JUMP_FIT_H
#define LDS_MEASURE_TONE_JUMP_FIT_H

#include <stdbool.h>
#include <stddef.h>

enum { LDS_JUMP_FITS = 6 };

struct lds_stretch {
    const double *x;
    size_t n;
    double rate_hz, tone_hz; /* nearly the tone's frequency about here */
    double mains_hz;         /* 0: none */
    double least_rad;        /* smaller jumps do not count */
    double explained;        /* only where jumps leave less than one part in so many of what is about the tone without
                              * them, or nothing but noise; 0: wherever they are */
};

struct lds_jump_fit {
    size_t sample;    /* the first after the jump */
    double phase_rad; /* by which it jumps, +-pi */
    double u_rad;
};

/* Up to LDS_JUMP_FITS jumps in order of time. A jump turns the tone and its harmonics and leaves the tone's amplitude
 * as it was; one counts when it is seven times its standard uncertainty or more, and two within 2 ms count as one.
 * false: no memory. */
bool lds_jump_fit(const struct lds_stretch *stretch, struct lds_jump_fit *jump, size_t *jumps);

#endif
