/* The level and phase of a sweep in short blocks of the capture, relative to the reference. */
#ifndef LDS_MEASURE_KNOWN_BLOCKS_H
#define LDS_MEASURE_KNOWN_BLOCKS_H

#include <complex.h>
#include <stddef.h>

#include "measure/known/known.h"

/* The samples of a channel around the signal: x[0] is frame `first` of the capture. */
struct lds_stretch {
    const double *x;
    size_t n;
    double first;
    double rate_hz;
};

struct lds_sweep_block {
    double hz, t_s;        /* of the sweep in the middle of the block, from the beginning of its first repeat */
    double complex phasor; /* peak and phase relative to the reference sine */
    double share; /* of the block's level that is the sweep: 1 is a sweep and nothing else; 0 outside the capture */
};

/* The block of `cycles` cycles around a time of the signal, placed by `known`; at least `least` samples. */
struct lds_sweep_block lds_sweep_block_at(const struct lds_stretch *stretch, const struct lds_known *known, double t_s,
                                          double cycles, double least);

/* The time within a repeat at which the sweep is at that frequency. */
double lds_sweep_time(const struct lds_signal_spec *spec, double hz);
double lds_sweep_hz(const struct lds_signal_spec *spec, double t_s);

#endif
