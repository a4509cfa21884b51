#include "measure/signal/driven.h"

#include <math.h>
#include <stdio.h>

#include "hz_words.h"
#include "loadside/capture.h"

/* Common practice, no source: a channel that is meant to be driven is not this far below another one, and crosstalk is
 * not this close to it. */
static const double UNDRIVEN = 0.1;  /* -20 dB */
static const double SAME_BINS = 1.0; /* uncertainty of a weak line's frequency in a look */

static bool has_tone(const struct lds_scout *scout)
{
    return !isnan(scout->tone_hz);
}

int lds_driven_strongest(const struct lds_driven_look *look, size_t count)
{
    int strongest = -1;
    for (size_t c = 0; c < count; c++)
        if (has_tone(look[c].scout) && (strongest < 0 || look[c].scout->level > look[strongest].scout->level))
            strongest = (int)c;
    return strongest;
}

static bool is_stated(int channel, const int *stated, size_t many)
{
    for (size_t i = 0; i < many; i++)
        if (stated[i] == channel)
            return true;
    return false;
}

static bool same_tone(const struct lds_scout *a, const struct lds_scout *b, double bin_hz)
{
    return fabs(a->tone_hz - b->tone_hz) <= SAME_BINS * bin_hz;
}

/* Is one of the channels with this channel's tone so much stronger? */
static bool is_far_below(const struct lds_driven_look *look, size_t count, size_t c, double bin_hz)
{
    for (size_t d = 0; d < count; d++)
        if (d != c && has_tone(look[d].scout) && same_tone(look[c].scout, look[d].scout, bin_hz) &&
            look[c].scout->level <= UNDRIVEN * look[d].scout->level)
            return true;
    return false;
}

/* Gives a channel without a tone of its own the strongest tone, if its level is too high for crosstalk. */
static void adopt(const struct lds_driven_look *look, const struct lds_scout *strongest, bool stated, double bin_hz)
{
    const struct lds_scout *second = &look->at_strongest;
    bool near = has_tone(second) && same_tone(second, strongest, bin_hz);
    if (!has_tone(look->scout) && near && (stated || second->level > UNDRIVEN * strongest->level))
        *look->scout = *second;
}

/* The tones of the other driven channels, strongest first. */
static void gather(const struct lds_driven_look *look, size_t count, const struct lds_driven *all, size_t c,
                   double bin_hz, struct lds_driven *driven)
{
    bool taken[LDS_CHANNELS_MAX] = {false};
    while (driven->tones < LDS_FOREIGN_MAX) {
        int next = -1;
        for (size_t d = 0; d < count && d < LDS_CHANNELS_MAX; d++)
            if (d != c && !taken[d] && !all[d].undriven && has_tone(look[d].scout) &&
                (next < 0 || look[d].scout->level > look[next].scout->level))
                next = (int)d;
        if (next < 0)
            return;
        taken[next] = true;
        const struct lds_scout *other = look[next].scout;
        bool known = has_tone(look[c].scout) && same_tone(look[c].scout, other, bin_hz);
        for (size_t i = 0; i < driven->tones; i++)
            known = known || fabs(driven->tone_hz[i] - other->tone_hz) <= SAME_BINS * bin_hz;
        if (known)
            continue;
        driven->tone_hz[driven->tones++] = other->tone_hz;
        if (isnan(other->second_hz) || !isnan(driven->two_hz[0]))
            continue;
        driven->two_hz[0] = fmin(other->tone_hz, other->second_hz);
        driven->two_hz[1] = fmax(other->tone_hz, other->second_hz);
    }
}

static void say_why(const struct lds_driven_look *look, const struct lds_driven *driven)
{
    struct lds_scout *scout = look->scout;
    char hz[24];
    if (driven->tones == 0) {
        snprintf(scout->why, sizeof scout->why, "channel %d is not driven", look->channel);
        return;
    }
    lds_hz_words(driven->tone_hz[0], hz, sizeof hz);
    snprintf(scout->why, sizeof scout->why, "channel %d is not driven: what it shows at %s is crosstalk", look->channel,
             hz);
}

void lds_driven_find(const struct lds_driven_look *look, size_t count, const int *stated, size_t many, double bin_hz,
                     struct lds_driven *driven)
{
    int strongest = lds_driven_strongest(look, count);
    for (size_t c = 0; c < count; c++) {
        driven[c] = (struct lds_driven){.undriven = many > 0 && !is_stated(look[c].channel, stated, many),
                                        .two_hz = {NAN, NAN}};
        if (strongest >= 0 && (many == 0 || !driven[c].undriven))
            adopt(&look[c], look[strongest].scout, many > 0, bin_hz);
    }
    for (size_t c = 0; c < count && many == 0 && strongest >= 0; c++)
        driven[c].undriven = has_tone(look[c].scout) ? is_far_below(look, count, c, bin_hz)
                                                     : look[c].rms <= UNDRIVEN * look[strongest].scout->level;
    for (size_t c = 0; c < count; c++)
        if (driven[c].undriven) {
            look[c].scout->tone_hz = look[c].scout->second_hz = NAN;
            look[c].scout->tones = look[c].scout->hum_order = 0;
        }
    for (size_t c = 0; c < count; c++) {
        gather(look, count, driven, c, bin_hz, &driven[c]);
        if (driven[c].undriven)
            say_why(&look[c], &driven[c]);
    }
}
