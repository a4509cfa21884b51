/* The mains comb of one channel, from its slow stream (5.25 to 12 kHz): frequency, tracked common phase, orders. */
#ifndef LDS_MEASURE_MAINS_MAINS_H
#define LDS_MEASURE_MAINS_MAINS_H

#include <stdbool.h>
#include <stddef.h>

#include "spectrum/density.h"

enum { LDS_MAINS_ORDERS = 40 };

/* Orders up to 2 kHz count. The margin keeps the same orders for mains up to half a hertz off its nominal 50 or 60 Hz:
 * order 40 of 50.5 Hz is at 2020 Hz, order 34 of 59.5 Hz at 2023 Hz. */
#define LDS_MAINS_TOP_HZ 2021.0

struct lds_mains; /* running state; holds one segment of at most 64 s of the slow stream */

struct lds_mains_order {
    bool usable;    /* false: above the stream's reach or LDS_MAINS_TOP_HZ, or too close to the tone or a harmonic */
    bool near_tone; /* too close to the tone or one of its harmonics */
    bool shared;    /* usable, but part of it may be a sideband of the tone: the limits include the expected hum too */
    bool detected;
    double power;       /* debiased mean square, full-scale units; can be slightly negative when not detected */
    double noise_power; /* of the estimate: n_k */
    double low, high;   /* 95 % limits of the mean square (>= 0) */
};

struct lds_mains_result {
    bool found;  /* a comb is above the noise */
    bool veiled; /* none was found, or none of its orders could be followed, as the tone and its sidebands are too close
                  */
    double frequency_hz, u_frequency_hz;
    double wander_hz; /* half the peak-to-peak wander of the fundamental mains frequency over the capture */
    struct lds_mains_order order[LDS_MAINS_ORDERS + 1]; /* [1..40] */
    double total_wander_db;                             /* peak to peak of the total over the capture; NAN: too short */
    double total_wander_u_db;
    double waveform[512]; /* average of one period (orders 1..40), full-scale units, peak scale */
};

/* Hum to expect on an order that the tone or a harmonic hides (it may be above the last one measured): the mean power
 * of the six nearest usable orders of the same parity, each moved along the trend of power over order. 0 where no comb
 * was found. */
struct lds_mains_expected {
    double power;     /* full-scale units squared */
    double low, high; /* two standard deviations of the orders about the trend, at least 6 dB; low: 0 where some of them
                       * are missing */
};
void lds_mains_expect(const struct lds_mains_result *mains, int order, struct lds_mains_expected *expected);

/* rate_hz: of the slow stream. nominal_hz: of the mains, or NAN to search 45..65 Hz. tone_hz: fundamental of the tone,
 * or NAN. NULL: no memory. */
struct lds_mains *lds_mains_new(double rate_hz, double nominal_hz, double tone_hz, double seconds);
/* Call before the first push if there is a second tone: its harmonics, and the products of the two, are not hum
 * either. */
void lds_mains_second_tone(struct lds_mains *mains, double second_hz);
/* The next n samples of the slow stream. Each segment is analysed and dropped when full. false: no memory. */
bool lds_mains_push(void *mains, const double *x, size_t n);
/* Ends the last segment. The noise around each order comes from the stream; density is not read and may be NULL. An
 * order that is not usable has NAN for its numbers. When no comb is found, frequency and wander are NAN, low is 0, and
 * high is an upper limit at the most likely frequency. false: no memory. */
bool lds_mains_finish(struct lds_mains *mains, const struct lds_density *density, struct lds_mains_result *result);
void lds_mains_free(void *mains);

#endif
