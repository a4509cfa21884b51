/* Filters that turn the spectrum of a captured sweep into that of the chain's impulse response. */
#ifndef LDS_MEASURE_KNOWN_SWEEP_FILTER_H
#define LDS_MEASURE_KNOWN_SWEEP_FILTER_H

#include "measure/known/sweep_bands.h"

/* For each band; the same for all channels. */
struct lds_sweep_filter {
    const struct lds_known *known; /* by which the reference was placed */
    const struct lds_sweep_bands *bands;
    bool made; /* all bands have been made */
    /* n/2 + 1 numbers: the inverse of a sweep that goes on above the last frequency, as its harmonics do (spectrum by
     * stationary phase: Novak 2015, eq. 33). */
    double complex *inverse[LDS_SWEEP_BANDS];
    /* The transfer function that a chain of gain 1 shows because the sweep ends, bin for bin; NULL: 1. */
    double complex *end[LDS_SWEEP_BANDS];
};

/* Those of one band. false: no memory. */
bool lds_sweep_filter_make(struct lds_sweep_filter *filter, size_t band);
void lds_sweep_filter_free(struct lds_sweep_filter *filter);

#endif
