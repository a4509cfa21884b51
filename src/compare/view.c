#include "compare/view.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

struct lds_seen lds_seen_channel(const struct lds_measurement *capture, const struct lds_channel *channel)
{
    return (struct lds_seen){.capture = capture,
                             .channel = channel,
                             .figure = channel->figure,
                             .absent = channel->absent,
                             .series = channel->series,
                             .figures = channel->figures,
                             .absents = channel->absents,
                             .series_count = channel->series_count};
}

static struct lds_seen seen_pair(const struct lds_measurement *capture, const struct lds_pair *pair)
{
    return (struct lds_seen){.capture = capture,
                             .figure = pair->figure,
                             .absent = pair->absent,
                             .series = pair->series,
                             .figures = pair->figures,
                             .absents = pair->absents,
                             .series_count = pair->series_count};
}

/* What a capture shows of the channel or pair; false: nothing. */
static bool look(const struct lds_measurement *capture, const int channels[2], struct lds_seen *seen)
{
    for (size_t c = 0; channels[1] == 0 && c < capture->channels; c++)
        if (capture->channel[c].channel == channels[0]) {
            *seen = lds_seen_channel(capture, &capture->channel[c]);
            return true;
        }
    for (size_t p = 0; p < capture->pairs; p++)
        if (capture->pair[p].channels[0] == channels[0] && capture->pair[p].channels[1] == channels[1]) {
            *seen = seen_pair(capture, &capture->pair[p]);
            return true;
        }
    return false;
}

bool lds_view_open(struct lds_view *view, const struct lds_measurement *const *capture[2], const int count[2],
                   const int channels[2])
{
    *view = (struct lds_view){.channels = {channels[0], channels[1]}};
    if (channels[1] > 0)
        snprintf(view->suffix, sizeof view->suffix, ".%d-%d", channels[0], channels[1]);
    for (int s = 0; s < 2; s++) {
        view->seen[s] = calloc((size_t)count[s] + 1, sizeof *view->seen[s]);
        for (int i = 0; view->seen[s] && i < count[s]; i++)
            view->count[s] += look(capture[s][i], channels, &view->seen[s][view->count[s]]);
    }
    return view->seen[0] && view->seen[1];
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

const struct lds_series *lds_seen_series(const struct lds_seen *seen, const char *key)
{
    return lds_series_find(seen->series, seen->series_count, key);
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
    if (!lds_chosen_room(chosen, view))
        return false;
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

bool lds_chosen_room(struct lds_chosen *chosen, const struct lds_view *view)
{
    bool ok = true;
    *chosen = (struct lds_chosen){0};
    for (int s = 0; s < 2; s++) {
        size_t room = (size_t)view->count[s] + 1;
        chosen->seen[s] = calloc(room, sizeof *chosen->seen[s]);
        chosen->figure[s] = calloc(room, sizeof *chosen->figure[s]);
        ok = ok && chosen->seen[s] && chosen->figure[s];
    }
    return ok;
}

void lds_chosen_free(struct lds_chosen *chosen)
{
    for (int s = 0; s < 2; s++) {
        free(chosen->seen[s]);
        free(chosen->figure[s]);
    }
    *chosen = (struct lds_chosen){0};
}
