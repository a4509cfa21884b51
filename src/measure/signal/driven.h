/* Which channels are driven, and what the others may show of them: told from the looks at all channels, before the
 * pass. */
#ifndef LDS_MEASURE_SIGNAL_DRIVEN_H
#define LDS_MEASURE_SIGNAL_DRIVEN_H

#include <stdbool.h>
#include <stddef.h>

#include "measure/signal/scout.h"

enum { LDS_FOREIGN_MAX = 8 };

struct lds_driven {
    bool undriven; /* it shows what another channel is driven with, far below it, or was stated not to be driven */
    size_t tones;  /* of other channels that are driven, the strongest first; this channel's own is none of them */
    double tone_hz[LDS_FOREIGN_MAX];
};

/* Of one channel. */
struct lds_driven_look {
    int channel; /* its number */
    double rms;  /* of all that the look saw */
    struct lds_scout *scout;
    struct lds_scout at_strongest; /* a second look about the strongest tone of all; tone_hz NAN: not needed */
};

/* The channel whose look has the strongest tone; -1: none has. */
int lds_driven_strongest(const struct lds_driven_look *look, size_t count);

/* Of what is not driven, scout loses its tone and says why. stated: the channels that are driven, `many` of them; 0:
 * each that shows a tone of its own, the same one less than 20 dB below the strongest, or as much of something else.
 * bin_hz: of the looks. */
void lds_driven_find(const struct lds_driven_look *look, size_t count, const int *stated, size_t many, double bin_hz,
                     struct lds_driven *driven);

#endif
