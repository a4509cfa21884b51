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

static int pick(const struct lds_view *view, int side, const char *key, bool tone, struct lds_chosen *chosen)
{
    int count = 0;
    for (int i = 0; i < view->count[side]; i++) {
        const struct lds_seen *seen = &view->seen[side][i];
        const struct lds_figure *figure = lds_seen_figure(seen, key);
        if (!figure || lds_seen_has_tone(seen) != tone)
            continue;
        chosen->seen[side][count] = seen;
        chosen->figure[side][count++] = figure;
    }
    return count;
}

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
    bool quiet_first = row && (row->section == LDS_NOISE || row->section == LDS_MAINS);
    for (int turn = 0; turn < 2; turn++) {
        bool tone = (turn == 0) != quiet_first;
        for (int s = 0; s < 2; s++)
            chosen->count[s] = pick(view, s, key, tone, chosen);
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
