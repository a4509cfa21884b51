/* The short look at the middle of the capture, before the pass: the tone of each channel, and which are driven. */
#ifndef LDS_MEASURE_SIGNAL_LOOK_H
#define LDS_MEASURE_SIGNAL_LOOK_H

#include "measure/asked.h"
#include "measure/signal/driven.h"
#include "measure/signal/scout.h"

enum { LDS_LOOK_SAMPLES = 1 << 16 }; /* at the audio level's rate, at most */

/* Of each channel to be measured, in their order. */
struct lds_look {
    struct lds_scout scout[LDS_CHANNELS_MAX];
    struct lds_driven driven[LDS_CHANNELS_MAX];
};

enum lds_status lds_look_for_tones(struct lds_capture *capture, const struct lds_asked *asked, struct lds_look *look,
                                   struct lds_error *error);

#endif
