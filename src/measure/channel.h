/* One channel during the pass: its running measurements, fed block by block. */
#ifndef LDS_MEASURE_CHANNEL_H
#define LDS_MEASURE_CHANNEL_H

#include <stdbool.h>

#include "measure/findings.h"
#include "schedule.h"
#include "spectrum/cascade.h"

struct lds_channel_pass;

/* What all channels of a capture share. */
struct lds_pass_shape {
    const struct lds_plan *plan;
    int bits;
    bool in_volts;
    double seconds;
    double mains_hz;       /* nominal or NAN */
    double lines_to_hz;    /* highest harmonic wanted */
    bool keep_frames;      /* for coherence with another channel */
    bool tone_stated;      /* by the user, or the user stated that there is none */
    double volts_per_unit; /* NAN: not calibrated */
};

/* scout: what the look found; driven: of this channel. Both are copied as needed. NULL: no memory. */
struct lds_channel_pass *lds_channel_pass_new(const struct lds_pass_shape *shape, const struct lds_scout *scout,
                                              const struct lds_driven *driven);
/* Channel `index` of a block of interleaved samples. slot: where frames for the coherence are kept. */
bool lds_channel_pass_push(struct lds_channel_pass *pass, const double *interleaved, int64_t frames, int channels,
                           int index, int slot);
/* Ends the pass: puts density, floor, track, mains, ... into *findings, whose options, info, end_hz, scale, calibrated
 * and scout must be set. false: no memory. */
bool lds_channel_pass_finish(struct lds_channel_pass *pass, struct lds_findings *findings);
/* What needs the jumps of the tone: how its frequency moves. Call it once, after lds_channel_pass_finish. */
bool lds_channel_pass_wander(struct lds_channel_pass *pass, struct lds_findings *findings);
void lds_channel_pass_free(struct lds_channel_pass *pass);

/* One in this many frames of a level is kept for the coherence. */
int lds_kept_stride(const struct lds_plan *plan, int level);

/* The frames kept in a slot, for the coherence. */
struct lds_kept_frame {
    int level;
    const double complex *spectrum;
};
size_t lds_channel_pass_kept(const struct lds_channel_pass *pass, int slot, const struct lds_kept_frame **frames);

#endif
