/* One plateau of a tone that steps in level: its fundamental, harmonics and everything else in the audio band. */
#ifndef LDS_MEASURE_POWER_PLATEAU_H
#define LDS_MEASURE_POWER_PLATEAU_H

#include <stdbool.h>
#include <stddef.h>

#include "loadside/bench.h"
#include "measure/statistics/line_sum.h"
#include "measure/tone/flattening.h"

enum { LDS_PLATEAU_ORDERS = 9, LDS_PLATEAU_PERIODS = 20 /* at least this many of the tone must fit */ };

/* Powers are mean squares in full-scale units, the bench's response divided out. Levels are in dB. */
struct lds_plateau {
    double from_s, to_s, hz;
    double fundamental, fundamental_u; /* its standard uncertainty from the noise */
    double total;                      /* everything from 20 Hz to 20 kHz, or as far as was captured */
    double noise;                      /* the same without the fundamental and its harmonics */
    int orders;                        /* that were captured, at most LDS_PLATEAU_ORDERS */
    struct lds_line_ratio order[LDS_PLATEAU_ORDERS + 1]; /* re the fundamental, from 2 */
    struct lds_line_level thd;                           /* orders 2 up to 20 kHz, re the fundamental */
    struct lds_line_level thd_n;                         /* everything but the fundamental re everything (AES17) */
    struct lds_flattening flattening;
};

/* How many samples of `room` are used. */
size_t lds_plateau_length(size_t room);

/* x: n samples, with n from lds_plateau_length; they are overwritten. hz: of the tone, within a tenth of 1/length.
 * end_hz: how far the capture reaches. false: no memory. */
bool lds_plateau_measure(double *x, size_t n, double rate_hz, double hz, double end_hz, const struct lds_bench *bench,
                         struct lds_plateau *plateau);

#endif
