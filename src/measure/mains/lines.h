/* The orders of one segment, demodulated at the tracked phase. */
#ifndef LDS_MEASURE_MAINS_LINES_H
#define LDS_MEASURE_MAINS_LINES_H

#include "measure/mains/segment.h"

struct lds_mains_line {
    bool usable, near_tone;
    bool shared; /* a sideband of the tone may fall on it, and its share cannot be determined */
    bool clear;  /* the tone is out of the whole band, so shorter stretches of it can be used too */
    double complex amplitude;
    double power;   /* raw mean square, with noise */
    double noise;   /* its mean in noise */
    double density; /* of the noise around the order, one-sided */
};

/* Fills line[1..40]. piece: called for every order that is clear of the tone, with its demodulated band (taper times C,
 * plus noise; bands->points values); may be NULL. false: no memory. */
bool lds_mains_lines_measure(struct lds_mains_line *line, const struct lds_mains_bands *bands,
                             const struct lds_mains_track *track, const struct lds_mains_tones *tones,
                             const struct lds_mains_spectrum *spectrum,
                             void (*piece)(void *context, int order, const double complex *z, double density),
                             void *context);

#endif
