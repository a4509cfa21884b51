/* The harmonics of the tone, each order on the level where it is clear of the others. */
#include <math.h>
#include <stdlib.h>

#include "measure/analyser.h"
#include "measure/tone/distortion.h"
#include "measure/tone/harmonics.h"

enum { FEWEST_HEARD = 7 };
static const double ORDER_SLACK = 1e-3; /* by which the last harmonic may exceed the frequency asked for, relative */

struct banks {
    struct lds_harmonics *bank[LDS_LEVELS_MAX]; /* by level; NULL where it has no harmonics */
};

/* The highest frequency needed: the one wanted, or more, to have enough orders to see whether the peaks are flattened.
 */
static double highest_hz(const struct lds_findings *start)
{
    return fmax(start->shape->lines_to_hz, FEWEST_HEARD * start->scout.tone_hz) * (1.0 + ORDER_SLACK);
}

static void free_state(void *state)
{
    struct banks *banks = state;
    for (int i = 0; i < LDS_LEVELS_MAX; i++)
        lds_harmonics_free(banks->bank[i]);
    free(banks);
}

/* Orders up to the audio level's end are measured there, higher ones on the faster levels, where their lobes are clear
 * of each other. */
static bool make(const struct lds_findings *start, void **state)
{
    const struct lds_plan *plan = start->shape->plan;
    struct banks *banks = *state = calloc(1, sizeof *banks);
    double f1 = start->scout.tone_hz;
    int first = 1;
    for (int i = plan->audio; banks && i < plan->levels; i++) {
        const struct lds_plan_level *level = &plan->level[i];
        int last = (int)floor(fmin(level->high_hz, highest_hz(start)) / f1);
        bool clear = f1 >= LDS_LOBE_BINS * level->rate_hz / level->n;
        if (last < first || (i > plan->audio && !clear))
            continue;
        banks->bank[i] = lds_harmonics_new(level, f1, first < 2 ? 2 : first, last < 2 ? 1 : last);
        if (!banks->bank[i])
            return false;
        first = last + 1;
    }
    return banks != NULL;
}

static bool push(void *state, const struct lds_frame *frame)
{
    struct banks *banks = state;
    if (banks->bank[frame->level])
        lds_harmonics_frame(banks->bank[frame->level], frame);
    return true;
}

/* All orders in one list, with the bench's response divided out; noise and detection follow with the floor. */
static bool finish(void *state, struct lds_findings *findings)
{
    struct banks *banks = state;
    if (!findings->has_tone)
        return true;
    int last = 1, order = 1;
    for (int i = 0; i < LDS_LEVELS_MAX; i++)
        if (banks->bank[i] && lds_harmonics_last(banks->bank[i]) > last)
            last = lds_harmonics_last(banks->bank[i]);
    findings->harmonic = calloc((size_t)last, sizeof *findings->harmonic);
    if (!findings->harmonic)
        return false;
    int wanted = (int)floor(findings->shape->lines_to_hz * (1.0 + ORDER_SLACK) / findings->scout.tone_hz);
    for (int i = 0; i < LDS_LEVELS_MAX; i++) {
        if (!banks->bank[i])
            continue;
        for (; order <= lds_harmonics_last(banks->bank[i]) || order == 1; order++) {
            struct lds_harmonic *h = &findings->harmonic[findings->heard++];
            findings->harmonics += order == 1 || order <= wanted;
            h->order = order;
            h->frequency_hz = order * findings->track.frequency_hz;
            h->phasor = order == 1 ? findings->track.level : lds_harmonics_mean(banks->bank[i], order);
            h->phasor /= lds_bench_gain(findings->bench, h->frequency_hz);
        }
    }
    return true;
}

static bool figures(const void *state, struct lds_channel *channel, const struct lds_findings *findings)
{
    (void)state;
    return lds_distortion_figures(channel, findings);
}

const struct lds_analyser lds_analyse_harmonics = {.tone = LDS_WITH_TONE,
                                                   .frames = LDS_ALL_FRAMES,
                                                   .make = make,
                                                   .frame = push,
                                                   .finish = finish,
                                                   .figures = figures,
                                                   .free = free_state};
