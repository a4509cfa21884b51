/* One channel in the pass: its analysers, fed block by block. */
#ifndef LDS_MEASURE_CHANNEL_H
#define LDS_MEASURE_CHANNEL_H

#include <stdbool.h>

#include "measure/findings.h"
#include "measure/pair/kept_frames.h"
#include "schedule.h"

struct lds_channel_pass;

/* The findings must have been begun (lds_findings_begin) and must outlive the pass. NULL, or false from any function
 * here: no memory. */
struct lds_channel_pass *lds_channel_pass_new(struct lds_findings *findings);
/* Channel `index` of a block of interleaved samples. slot: where frames for the coherence are kept. */
bool lds_channel_pass_push(struct lds_channel_pass *pass, const double *interleaved, int64_t frames, int channels,
                           int index, int slot);
/* Ends the pass: fills the findings. */
bool lds_channel_pass_finish(struct lds_channel_pass *pass);
/* All figures, series and problems of the channel, once the jumps of its tone are in the findings. Once only. */
bool lds_channel_pass_figures(struct lds_channel_pass *pass, struct lds_channel *channel);
void lds_channel_pass_free(struct lds_channel_pass *pass);

/* The frames kept in a slot, for the coherence. */
const struct lds_kept_frames *lds_channel_pass_kept(const struct lds_channel_pass *pass, int slot);

#endif
