/* Periodic noise in a capture: its periods at the player's clock, averaged. */
#ifndef LDS_MEASURE_KNOWN_PERIODS_H
#define LDS_MEASURE_KNOWN_PERIODS_H

#include "measure/known/transfer.h"

struct lds_periods_request {
    const double *x; /* the samples that hold the signal, n of them */
    size_t n;
    double begin;            /* sample at which the signal proper begins */
    double step;             /* rate of the recorder over that of the player */
    const double *reference; /* one period as it is played in the middle of the signal */
    size_t period;           /* a power of two, at least 256 */
    size_t periods;          /* whole ones, of which the first only lets the amplifier settle: at least 2 */
};

struct lds_periods {
    size_t bins; /* period/2 + 1 */
    double complex *in, *out;
    double *noise;   /* mean |out - mean|^2 of one period; NULL: there is only one */
    size_t averages; /* periods that `out` is the mean of */
};

/* false: no memory. */
bool lds_periods_average(const struct lds_periods_request *request, struct lds_periods *periods);
void lds_periods_free(struct lds_periods *periods);

#endif
