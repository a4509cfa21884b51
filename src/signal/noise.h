/* Periodic noise as a test signal. */
#ifndef LDS_SIGNAL_NOISE_H
#define LDS_SIGNAL_NOISE_H

#include "loadside/signal.h"

struct lds_noise {
    double *period; /* its samples, the largest of magnitude 1 */
    double rms;
    double peak; /* including the peaks between the samples, which the player makes: 1 or slightly more */
};

/* False: no memory. */
bool lds_noise_make(const struct lds_signal_spec *spec, struct lds_noise *noise);
void lds_noise_free(struct lds_noise *noise);

#endif
