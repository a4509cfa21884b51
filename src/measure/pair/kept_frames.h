/* Frames of a block that are kept for the coherence with another channel. */
#ifndef LDS_MEASURE_PAIR_KEPT_FRAMES_H
#define LDS_MEASURE_PAIR_KEPT_FRAMES_H

#include "spectrum/cascade.h"

/* One in this many frames of a level is kept. */
int lds_kept_stride(const struct lds_plan *plan, int level);

/* The bins that the composite spectrum takes from a level, and a few on either side: no others are kept. */
struct lds_kept_bins {
    size_t first, count;
};
struct lds_kept_bins lds_kept_bins(const struct lds_plan *plan, int level);

struct lds_kept_frame {
    int level;
    const double complex *spectrum; /* from the first kept bin */
};

/* The frames kept from one block. Must be zeroed before first use. */
struct lds_kept_frames {
    size_t count, room;
    struct lds_kept_frame *frame;
    struct lds_frame_place {
        double complex *bins;
        size_t room;
    } * place;
};

/* Keeps a copy of the frame, if it is one of those to be kept. false: no memory. */
bool lds_kept_frames_add(struct lds_kept_frames *kept, const struct lds_plan *plan, const struct lds_frame *frame);
void lds_kept_frames_free(struct lds_kept_frames *kept);

#endif
