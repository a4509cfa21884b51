/* Which channels are driven, and whose tones may appear in the others: decided from the looks at all channels, before
 * the pass. */
#ifndef LDS_MEASURE_SIGNAL_DRIVEN_H
#define LDS_MEASURE_SIGNAL_DRIVEN_H

#include <stdbool.h>
#include <stddef.h>

#include "measure/signal/scout.h"

enum { LDS_FOREIGN_MAX = 8 };

struct lds_driven {
    bool undriven; /* it shows another channel's tone, far weaker, or the user stated that it is not driven */
    size_t tones;  /* of other driven channels, strongest first, without this channel's own */
    double tone_hz[LDS_FOREIGN_MAX];
    double two_hz[2]; /* of the strongest of those channels that has two tones, the lower first; NAN: none has */
};

/* What the looks found in one channel. */
struct lds_driven_look {
    int channel; /* its number */
    double rms;  /* of everything that the look covers */
    struct lds_scout *scout;
    struct lds_scout at_strongest; /* a second look, near the strongest tone of all channels; tone_hz NAN: not needed */
};

/* The channel whose look has the strongest tone; -1: none has one. */
int lds_driven_strongest(const struct lds_driven_look *look, size_t count);

/* Channels that are not driven lose the tone in their scout, with the reason. stated: the `many` driven channels; 0: a
 * channel is driven if it has a tone of its own, the same tone as a stronger channel but less than 20 dB below it, or
 * something else as strong. bin_hz: of the looks. */
void lds_driven_find(const struct lds_driven_look *look, size_t count, const int *stated, size_t many, double bin_hz,
                     struct lds_driven *driven);

#endif
