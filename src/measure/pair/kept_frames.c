#include "measure/pair/kept_frames.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "grow.h"

/* One in two of the frames, which overlap by three quarters; one in four on the fastest levels, which have plenty. */
enum { KEEP_SLOW = 2, KEEP_FAST = 4 };
enum { MORE = 4 }; /* places allocated at a time */

int lds_kept_stride(const struct lds_plan *plan, int level)
{
    return level > plan->audio ? KEEP_FAST : KEEP_SLOW;
}

struct lds_kept_bins lds_kept_bins(const struct lds_plan *plan, int level)
{
    const struct lds_plan_level *l = &plan->level[level];
    double bin_hz = l->rate_hz / l->n;
    double first = fmax(0.0, floor(l->low_hz / bin_hz) - LDS_LOBE_BINS);
    double last = fmin(0.5 * l->n, ceil(l->high_hz / bin_hz) + LDS_LOBE_BINS);
    return (struct lds_kept_bins){(size_t)first, (size_t)(last - first) + 1};
}

static bool make_room(struct lds_kept_frames *kept)
{
    if (kept->count < kept->room)
        return true;
    size_t room = kept->room + MORE;
    if (!lds_resize(&kept->frame, room, sizeof *kept->frame) || !lds_resize(&kept->place, room, sizeof *kept->place))
        return false;
    memset(kept->place + kept->room, 0, MORE * sizeof *kept->place);
    kept->room = room;
    return true;
}

bool lds_kept_frames_add(struct lds_kept_frames *kept, const struct lds_plan *plan, const struct lds_frame *frame)
{
    if (frame->index % lds_kept_stride(plan, frame->level) != 0)
        return true;
    struct lds_kept_bins bins = lds_kept_bins(plan, frame->level);
    if (!make_room(kept))
        return false;
    /* A place may hold frames of different levels in turn, so it grows to the longest. */
    struct lds_frame_place *place = &kept->place[kept->count];
    if (place->room < bins.count) {
        free(place->bins);
        place->bins = malloc(bins.count * sizeof *place->bins);
        place->room = place->bins ? bins.count : 0;
        if (!place->bins)
            return false;
    }
    memcpy(place->bins, frame->spectrum + bins.first, bins.count * sizeof *place->bins);
    kept->frame[kept->count++] = (struct lds_kept_frame){frame->level, place->bins};
    return true;
}

void lds_kept_frames_free(struct lds_kept_frames *kept)
{
    for (size_t i = 0; i < kept->room; i++)
        free(kept->place[i].bins);
    free(kept->place);
    free(kept->frame);
}
