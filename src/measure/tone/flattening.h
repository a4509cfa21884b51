/* Flattened peaks: whether the harmonics of a tone are those of a limiting curve, as of an amplifier that clips, and at
 * what level it limits. */
#ifndef LDS_MEASURE_TONE_FLATTENING_H
#define LDS_MEASURE_TONE_FLATTENING_H

#include <complex.h>
#include <stdbool.h>

enum { LDS_FLATTENING_ORDERS = 20, LDS_FLATTENING_LEAST = 5 };

struct lds_flattening {
    bool found;
    double thd;       /* of the harmonics looked at, relative to the fundamental */
    double explained; /* share of the harmonics' power that the curve explains */
    double gain;      /* slope of the curve at the flattened peak, relative to that at zero */
    double ceiling;   /* magnitude of the flattened peak, relative to the peak of the fundamental */
};

/* z[k]: phasor of order k relative to the fundamental's, phase_k - k phase_1, for k = 2..last (last is 5 to 20). noise:
 * the sum of their noise powers, relative to the fundamental too. Found when a limiting curve explains nine tenths of
 * the power of a THD of 0.3 % or more, and its slope at a peak is less than 0.88 of that at zero. */
void lds_flattening_fit(const double complex *z, int last, double noise, struct lds_flattening *result);

#endif
