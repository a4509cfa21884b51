/* Jumps of a tone's phase in a short stretch of samples, by least squares. */
#ifndef LDS_MEASURE_TONE_JUMP_FIT_H
#define LDS_MEASURE_TONE_JUMP_FIT_H

#include <stdbool.h>
#include <stddef.h>

enum { LDS_JUMP_FITS = 6 };

struct lds_stretch {
    const double *x;
    size_t n;
    double rate_hz, tone_hz; /* approximate frequency of the tone here */
    double mains_hz;         /* 0: none */
    double least_rad;        /* smaller jumps do not count */
    double explained;        /* jumps are accepted only where they reduce the residual about the tone to one part in
                              * this many, or to noise; 0: everywhere */
};

struct lds_jump_fit {
    size_t sample;    /* the first after the jump */
    double phase_rad; /* size of the jump, +-pi */
    double u_rad;
};

/* Finds up to LDS_JUMP_FITS jumps, in order of time. A jump changes the phase of the tone and its harmonics and keeps
 * the tone's amplitude; it counts from seven times its standard uncertainty, and two within 2 ms count as one. false:
 * no memory. */
bool lds_jump_fit(const struct lds_stretch *stretch, struct lds_jump_fit *jump, size_t *jumps);

#endif
