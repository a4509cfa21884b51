/* Capture health, from the raw samples of one channel: faults of the recording that would make other figures wrong. */
#ifndef LDS_MEASURE_HEALTH_HEALTH_H
#define LDS_MEASURE_HEALTH_HEALTH_H

#include <stdbool.h>
#include <stdint.h>

#include "loadside/measurement.h"

struct lds_health; /* running state of one channel; at most a few hundred kilobytes */

struct lds_health_result {
    int64_t samples;
    double mean, rms; /* rms with the mean removed; full-scale units */
    double min, max;
    double sum_cubes; /* with the sums above: equal in two channels only when all samples are */
    bool constant;    /* every sample the same: a dead channel */
    int64_t clipped;  /* runs at full scale, or flat runs longer than a sine of that size can have */
    int64_t gaps;     /* runs of zeros and repeated blocks (phase jumps of the tone are found elsewhere) */
    int bits;         /* bits actually used; 0 for floating-point samples without a grid */
    size_t problems;  /* the first LDS_HEALTH_LISTED of them, in time order */
    struct lds_problem *problem;
};

enum { LDS_HEALTH_LISTED = 256 };

/* rate_hz: of the capture; bits: of the container, 0 for floating point; in_volts: no full scale is known. NULL: no
 * memory. */
struct lds_health *lds_health_new(double rate_hz, int bits, bool in_volts);
/* The next n samples of the channel (contiguous). */
bool lds_health_push(void *health, const double *x, size_t n);
/* Ends the channel; the caller frees result->problem. false: no memory. */
bool lds_health_finish(struct lds_health *health, struct lds_health_result *result);
void lds_health_free(void *health);

#endif
