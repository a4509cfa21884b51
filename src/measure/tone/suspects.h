/* Places where the tone's phase may jump, found from its phase in frames. */
#ifndef LDS_MEASURE_TONE_SUSPECTS_H
#define LDS_MEASURE_TONE_SUSPECTS_H

#include <stdbool.h>
#include <stddef.h>

enum { LDS_SUSPECTS_MAX = 256, LDS_SUSPECT_STEPS = 4 };

struct lds_suspect {
    size_t frame;
    double score;     /* how far it stands out, in standard deviations */
    double phase_rad; /* size of the jump as seen in the frames; 0: the phase returns */
};

struct lds_suspects {
    size_t count;
    struct lds_suspect *suspect; /* in order of time; the caller frees it */
    double sigma_rad;            /* robust scatter of a step of the phase between means of many frames */
};

/* Robust scatter of a step of y between means of many frames, like suspects.sigma_rad for the phase. 0: too few frames.
 * NAN: no memory. */
double lds_suspects_scatter(double *y, size_t count);

/* phase[0..count): unwrapped, from frames that step by a LDS_SUSPECT_STEPS-th of their length; the jumps are removed
 * from it. apart: suspects within so many frames are looked at together. false: no memory. */
bool lds_suspects_find(double *phase, size_t count, size_t apart, struct lds_suspects *suspects);

#endif
