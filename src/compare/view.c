#include "compare/view.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static bool make_room(struct lds_view *view, const int count[2])
{
    for (int s = 0; s < 2; s++) {
        view->seen[s] = calloc((size_t)(count[s] > 0 ? count[s] : 1), sizeof *view->seen[s]);
        if (!view->seen[s])
            return false;
    }
    return true;
}

bool lds_view_channel(struct lds_view *view, const struct lds_measurement *const *capture[2], const int count[2],
                      int channel)
{
    *view = (struct lds_view){.channel = channel};
    if (!make_room(view, count))
        return false;
    for (int s = 0; s < 2; s++)
        for (int i = 0; i < count[s]; i++)
            for (size_t c = 0; c < capture[s][i]->channels; c++) {
                const struct lds_channel *from = &capture[s][i]->channel[c];
                if (from->channel == channel)
                    view->seen[s][view->count[s]++] = (struct lds_seen){capture[s][i], from,          from->figure,
                                                                        from->absent,  from->figures, from->absents};
            }
    return true;
}

bool lds_view_pair(struct lds_view *view, const struct lds_measurement *const *capture[2], const int count[2],
                   const int channels[2])
{
    *view = (struct lds_view){0};
    snprintf(view->suffix, sizeof view->suffix, ".%d-%d", channels[0], channels[1]);
    if (!make_room(view, count))
        return false;
    for (int s = 0; s < 2; s++)
        for (int i = 0; i < count[s]; i++)
            for (size_t p = 0; p < capture[s][i]->pairs; p++) {
                const struct lds_pair *from = &capture[s][i]->pair[p];
                if (from->channels[0] == channels[0] && from->channels[1] == channels[1])
                    view->seen[s][view->count[s]++] = (struct lds_seen){capture[s][i], NULL,          from->figure,
                                                                        from->absent,  from->figures, from->absents};
            }
    return true;
}

void lds_view_key(const struct lds_view *view, const char *key, char *name, size_t size)
{
    const struct lds_key *row = lds_key_find(key);
    bool says = row && row->directed && key[strlen(row->stem)] == '.';
    snprintf(name, size, "%.64s%s", key, says ? "" : view->suffix);
}

void lds_view_free(struct lds_view *view)
{
    free(view->seen[0]);
    free(view->seen[1]);
    *view = (struct lds_view){0};
}

const struct lds_figure *lds_seen_figure(const struct lds_seen *seen, const char *key)
{
    for (size_t i = 0; i < seen->figures; i++)
        if (strcmp(seen->figure[i].key, key) == 0)
            return &seen->figure[i];
    return NULL;
}

bool lds_seen_has_tone(const struct lds_seen *seen)
{
    for (size_t c = 0; c < seen->capture->channels; c++) {
        const struct lds_channel *channel = &seen->capture->channel[c];
        if (seen->channel && channel != seen->channel)
            continue;
        if (lds_channel_figure(channel, "tone.level"))
            return true;
    }
    return false;
}

struct lds_played lds_seen_played(const struct lds_seen *seen)
{
    bool any_tone = false;
    for (size_t c = 0; c < seen->capture->channels; c++)
        any_tone = any_tone || lds_channel_figure(&seen->capture->channel[c], "tone.level");
    struct lds_played played = {seen->channel ? seen->channel->signal.kind : seen->capture->signal.kind,
                                seen->capture->signal.kind};
    if (played.own == LDS_SIGNAL_NONE)
        played.own = lds_seen_has_tone(seen) ? LDS_SIGNAL_SINE : LDS_SIGNAL_SILENCE;
    if (played.all == LDS_SIGNAL_NONE)
        played.all = any_tone ? LDS_SIGNAL_SINE : LDS_SIGNAL_SILENCE;
    return played;
}

static int pick(const struct lds_view *view, int side, const char *key, struct lds_played wanted,
                struct lds_chosen *chosen)
{
    int count = 0;
    for (int i = 0; i < view->count[side]; i++) {
        const struct lds_seen *seen = &view->seen[side][i];
        const struct lds_figure *figure = lds_seen_figure(seen, key);
        struct lds_played played = lds_seen_played(seen);
        if (!figure || played.own != wanted.own || played.all != wanted.all)
            continue;
        chosen->seen[side][count] = seen;
        chosen->figure[side][count++] = figure;
    }
    return count;
}

/* The kinds in the order in which they are tried. */
static const enum lds_signal_kind kinds[] = {
    LDS_SIGNAL_SILENCE, LDS_SIGNAL_SINE,  LDS_SIGNAL_TWO_TONE,  LDS_SIGNAL_SWEEP,    LDS_SIGNAL_STAIRCASE,
    LDS_SIGNAL_BURST,   LDS_SIGNAL_NOISE, LDS_SIGNAL_PROGRAMME, LDS_SIGNAL_POWER_ON,
};
enum { KINDS = sizeof kinds / sizeof kinds[0] };

bool lds_choose(const struct lds_view *view, const char *key, const struct lds_key *row, struct lds_chosen *chosen)
{
    *chosen = (struct lds_chosen){0};
    for (int s = 0; s < 2; s++) {
        size_t room = (size_t)(view->count[s] > 0 ? view->count[s] : 1);
        chosen->seen[s] = calloc(room, sizeof *chosen->seen[s]);
        chosen->figure[s] = calloc(room, sizeof *chosen->figure[s]);
        if (!chosen->seen[s] || !chosen->figure[s])
            return false;
    }
    int first = row && (row->section == LDS_NOISE || row->section == LDS_MAINS) ? 0 : 1;
    for (int turn = 0; turn < KINDS * KINDS; turn++) {
        struct lds_played wanted = {kinds[(turn / KINDS + first) % KINDS], kinds[turn % KINDS]};
        for (int s = 0; s < 2; s++)
            chosen->count[s] = pick(view, s, key, wanted, chosen);
        if (chosen->count[0] > 0 && chosen->count[1] > 0)
            break;
    }
    return true;
}

void lds_chosen_free(struct lds_chosen *chosen)
{
    for (int s = 0; s < 2; s++) {
        free(chosen->seen[s]);
        free(chosen->figure[s]);
    }
    *chosen = (struct lds_chosen){0};
}
