/* What the search beside the tone is fed with. */
#include "measure/analyser.h"
#include "measure/tone/zoom.h"

static bool make(const struct lds_findings *start, void **state)
{
    const struct lds_plan *plan = start->shape->plan;
    struct lds_zoom *zoom = NULL;
    double stream_s = start->seconds - 2.0 * start->audio_start_s;
    bool made = lds_zoom_new(&plan->level[plan->audio], stream_s, start->scout.tone_hz, &zoom);
    *state = zoom;
    return made;
}

static bool push(void *state, const struct lds_frame *frame)
{
    lds_zoom_frame(state, frame->spectrum);
    return true;
}

static bool finish(void *state, struct lds_findings *findings)
{
    return lds_zoom_finish(state, &findings->zoom);
}

static void free_state(void *state)
{
    lds_zoom_free(state);
}

const struct lds_analyser lds_analyse_beside_tone = {
    .tone = LDS_WITH_TONE, .make = make, .frame = push, .finish = finish, .free = free_state};
