/* The orders of one segment, demodulated at the tracked phase. */
#ifndef LDS_MEASURE_MAINS_LINES_H
#define LDS_MEASURE_MAINS_LINES_H

#include "measure/mains/segment.h"

struct lds_mains_line {
    bool usable, near_tone;
    bool shared; /* a sideband of the tone may stand on it, and there is no telling how much of it that is */
    bool clear;  /* of the tone in the whole band: its shorter stretches serve too */
    double complex amplitude;
    double power;   /* raw mean square, noise in */
    double noise;   /* its mean in noise */
    double density; /* of the noise about the order, one-sided */
};

/* Fills line[1..40]. piece: called for every order that is clear of the tone with its demodulated band (taper times C
 * and noise, bands->points of them); may be NULL. false: no memory. */
bool lds_mains_lines_measure(struct lds_mains_line *line, const struct lds_mains_bands *bands,
                             const struct lds_mains_track *track, const struct lds_mains_tones *tones,
                             const struct lds_mains_spectrum *spectrum,
                             void (*piece)(void *context, int order, const double complex *z, double density),
                             void *context);

#endif
