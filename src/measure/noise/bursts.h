/* Impulses and the shape of the noise's distribution, in the noise from 2 to 20 kHz without the tone's harmonics. */
#ifndef LDS_MEASURE_NOISE_BURSTS_H
#define LDS_MEASURE_NOISE_BURSTS_H

#include <stdbool.h>
#include <stdint.h>

#include "spectrum/cascade.h"

struct lds_bursts;

struct lds_bursts_result {
    bool usable;
    double seconds;     /* length of what was analysed */
    int64_t impulses;   /* runs above 5.5 robust sigma; those within 1 ms of each other count once */
    double kurtosis;    /* excess: 0 for normal noise */
    double independent; /* number of independent samples: 2 B T */
    double band_hz[2];
};

enum { LDS_BURST_LOW_HZ = 2000, LDS_BURST_HIGH_HZ = 20000 };

/* For the audio level of the plan; tone_hz NAN: none. NULL: no memory. */
struct lds_bursts *lds_bursts_new(const struct lds_plan *plan, double tone_hz);
bool lds_bursts_frame(void *bursts, const struct lds_frame *frame);
void lds_bursts_finish(const struct lds_bursts *bursts, struct lds_bursts_result *result);
void lds_bursts_free(void *bursts);

#endif
