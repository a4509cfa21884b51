/* Places where the tone's phase may jump, from its phase in frames. */
#ifndef LDS_MEASURE_TONE_SUSPECTS_H
#define LDS_MEASURE_TONE_SUSPECTS_H

#include <stdbool.h>
#include <stddef.h>

enum { LDS_SUSPECTS_MAX = 256, LDS_SUSPECT_STEPS = 4 };

struct lds_suspect {
    size_t frame;
    double score;     /* how far it stands out, in standard deviations */
    double phase_rad; /* by which the phase jumps, as far as the frames tell; 0: it comes back */
};

struct lds_suspects {
    size_t count;
    struct lds_suspect *suspect; /* in order of time; the caller's to free */
    double sigma_rad;            /* robust scatter of a step of the phase between means of many frames */
};

/* Robust scatter of a step of y between means of many frames, as suspects.sigma_rad is of the phase. 0: too few frames.
 * NAN: no memory. */
double lds_suspects_scatter(double *y, size_t count);

/* phase[0..count): unwrapped, of frames that overlap by all but a LDS_SUSPECT_STEPS-th; the jumps are taken out of it.
 * apart: frames about a suspect that are looked at with it. false: no memory. */
bool lds_suspects_find(double *phase, size_t count, size_t apart, struct lds_suspects *suspects);

#endif
