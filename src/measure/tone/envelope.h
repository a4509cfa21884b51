/* The tone's complex envelope in short overlapping frames of a stream. */
#ifndef LDS_MEASURE_TONE_ENVELOPE_H
#define LDS_MEASURE_TONE_ENVELOPE_H

#include <complex.h>
#include <stdbool.h>
#include <stddef.h>

#include "spectrum/sliding.h"

struct lds_envelope {
    double cycles; /* of the tone per sample */
    size_t n, hop, frames;
    double *cosine, *sine; /* one windowed frame, scaled so that the sum is the complex peak amplitude */
    double *buffer;
    struct lds_sliding sliding;
};

/* Frames of n samples every hop samples. false: no memory; call lds_envelope_free all the same. */
bool lds_envelope_init(struct lds_envelope *envelope, double rate_hz, double tone_hz, size_t n, size_t hop);
void lds_envelope_free(struct lds_envelope *envelope);

/* Calls on_frame for each full frame: the peak amplitude at the frame's centre, with its phase relative to the nominal
 * tone from the first sample of the stream. false as soon as on_frame returns false. */
typedef bool lds_envelope_frame(void *context, double complex value);
bool lds_envelope_push(struct lds_envelope *envelope, const double *x, size_t n, lds_envelope_frame *on_frame,
                       void *context);

#endif
