/* Finds where exactly a stated signal is: from a place that is off by a few milliseconds, to fractions of a sample.
 * Also finds the clock of the recorder relative to the player's. */
#ifndef LDS_MEASURE_KNOWN_FOLLOW_H
#define LDS_MEASURE_KNOWN_FOLLOW_H

#include "measure/known/blocks.h"

/* Refines begin, clock and polarity of a sweep; `known` has the first guess. One sweep alone gives the clock only
 * together with the group delay of the chain, which is taken for constant between 1 and 20 kHz, except for the effect
 * of a first-order high-pass and a first-order low-pass outside that range. With repeats, the clock follows from the
 * time between them, whatever the chain. known->found is false if the sweep is not there. Returns false: no memory. */
bool lds_follow_sweep(const struct lds_stretch *stretch, struct lds_known *known);

/* The same for periodic noise, by a straight line through the delays of stretches throughout. */
bool lds_follow_noise(const struct lds_stretch *stretch, struct lds_known *known);

/* The same for a sine, two tones, a staircase or bursts, and whether all of it is there. The polarity is known where
 * the time of the signal's edge is known to a small part of a cycle of the tone. */
bool lds_follow_tone(const struct lds_stretch *stretch, struct lds_known *known);

#endif
