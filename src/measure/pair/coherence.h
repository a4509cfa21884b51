/* Magnitude-squared coherence of two channels, from the cross spectra of their frames. */
#ifndef LDS_MEASURE_PAIR_COHERENCE_H
#define LDS_MEASURE_PAIR_COHERENCE_H

#include <complex.h>
#include <stdbool.h>

#include "measure/spurs/lines.h"
#include "spectrum/cascade.h"

struct lds_coherence {
    const struct lds_plan *plan;
    /* Sums over the frames for each kept bin: X conj(Y), |X|^2, |Y|^2. The powers must be from the same frames as the
     * cross spectrum, or their ratio would not be a coherence. */
    double *sum[LDS_LEVELS_MAX];
    int frames[LDS_LEVELS_MAX];
};

bool lds_coherence_init(struct lds_coherence *coherence, const struct lds_plan *plan);
/* The same frame of both channels, from the first kept bin. */
void lds_coherence_frame(struct lds_coherence *coherence, int level, const double complex *x, const double complex *y);
void lds_coherence_free(struct lds_coherence *coherence);

/* |sum Y conj X|^2 / (sum |X|^2)^2 in one bin of a level: the power gain from one channel, X, to the other. of_first: X
 * is the first channel. *frames: how many there were. */
double lds_coherence_transfer(const struct lds_coherence *coherence, int level, int bin, bool of_first, int *frames);

struct lds_coherence_band {
    double value;        /* 0..1, bias removed; 0 where that would make it negative */
    double low, high;    /* 95 % */
    double significance; /* independent channels exceed this value once in 20 times */
};

/* Mean coherence of the noise in a band: not |sum S_xy|^2 over the band, in which a rotating phase would cancel, but
 * the mean over bins of |S_xy|^2/(S_xx S_yy). Bins that a line takes in either channel are left out. false: nothing is
 * left. */
bool lds_coherence_in_band(const struct lds_coherence *coherence, const struct lds_floor *x, const struct lds_floor *y,
                           double low_hz, double high_hz, struct lds_coherence_band *band);

#endif
