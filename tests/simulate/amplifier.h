/* An amplifier for comparisons: its tone, harmonics, hum, other line and noise, and the effect of re-cabling between
 * captures. */
#ifndef SIM_AMPLIFIER_H
#define SIM_AMPLIFIER_H

#include "loadside/compare.h"
#include "simulate/measured.h"
#include "simulate/signals.h"

struct sim_amplifier {
    double rate_hz, seconds;
    double level;          /* rms of the tone; 0: idle */
    double harmonic_db[6]; /* orders 2..5 re the tone; -INFINITY: none */
    double hum[6];         /* rms of mains orders 1..5 */
    double spur_hz, spur;  /* 0: none */
    double density;        /* white noise, per root hertz */
};

/* Standard deviations, dB, of what differs from one capture to the next. */
struct sim_scatter {
    double level_db, noise_db, distortion_db, mains_db;
};

/* Records and measures one channel of it, with new random phases and mains frequency. All harmonics change together,
 * and so do all mains orders. */
void sim_amplifier_measure(const struct sim_amplifier *amplifier, const struct sim_scatter *scatter,
                           struct sim_random *random, struct lds_measurement *measurement);

/* What a comparison reported. */
struct sim_calls {
    int changes, lines, regions; /* lower or higher; regions of the density */
    int judged, same;
};
/* Does a word mean a change, even a slight one? */
bool sim_is_called(enum lds_word word);

void sim_calls_count(const struct lds_comparison *comparison, struct sim_calls *calls);

/* Compares, or ends the program with the message. */
void sim_compare(struct lds_side before, struct lds_side after, const struct lds_compare_options *options,
                 struct lds_comparison *comparison);

const struct lds_change *sim_change(const struct lds_comparison *comparison, const char *key);

#endif
