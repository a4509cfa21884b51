/* Where exactly a stated signal is: from a place that is off by a few milliseconds to fractions of a sample, and the
 * clock of the recorder relative to the player's. */
#ifndef LDS_MEASURE_KNOWN_FOLLOW_H
#define LDS_MEASURE_KNOWN_FOLLOW_H

#include "measure/known/blocks.h"

/* Refines begin, clock and polarity of a sweep; `known` has the first guess. Of one sweep alone the clock is known only
 * together with the group delay of what it went through: that is taken for constant between 1 and 20 kHz but for what a
 * first-order high-pass and a first-order low-pass outside do. With repeats, the clock is the time between them,
 * whatever they went through. found: false if it is not there. false: no memory. */
bool lds_follow_sweep(const struct lds_stretch *stretch, struct lds_known *known);

/* The same for periodic noise: delays of stretches throughout, and a line through them. */
bool lds_follow_noise(const struct lds_stretch *stretch, struct lds_known *known);

/* The same for a sine, two tones, a staircase or bursts, and whether all of it is there. The polarity is known where
 * the edge of the signal is known well within a cycle of the tone. */
bool lds_follow_tone(const struct lds_stretch *stretch, struct lds_known *known);

#endif
