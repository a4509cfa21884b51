#include "compare/view.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* A channel and a pair have members of the same names. */
#define SEEN(at_side, in, of, from)                                                                                    \
    ((struct lds_seen){.side = (at_side),                                                                              \
                       .capture = (in),                                                                                \
                       .channel = (of),                                                                                \
                       .figure = (from)->figure,                                                                       \
                       .absent = (from)->absent,                                                                       \
                       .series = (from)->series,                                                                       \
                       .figures = (from)->figures,                                                                     \
                       .absents = (from)->absents,                                                                     \
                       .series_count = (from)->series_count})

struct lds_seen lds_seen_channel(int side, const struct lds_measurement *capture, const struct lds_channel *channel)
{
    return SEEN(side, capture, channel, channel);
}

/* The channel or pair in a capture; false: it has none. */
static bool look(int side, const struct lds_measurement *capture, const int channels[2], struct lds_seen *seen)
{
    for (size_t c = 0; channels[1] == 0 && c < capture->channels; c++)
        if (capture->channel[c].channel == channels[0]) {
            *seen = lds_seen_channel(side, capture, &capture->channel[c]);
            return true;
        }
    for (size_t p = 0; p < capture->pairs; p++)
        if (capture->pair[p].channels[0] == channels[0] && capture->pair[p].channels[1] == channels[1]) {
            *seen = SEEN(side, capture, NULL, &capture->pair[p]);
            return true;
        }
    return false;
}

bool lds_view_open(struct lds_view *view, const struct lds_captures *captures, const int channels[2])
{
    *view = (struct lds_view){.channels = {channels[0], channels[1]},
                              .seen = calloc((size_t)captures->all + 1, sizeof *view->seen)};
    if (channels[1] > 0)
        snprintf(view->suffix, sizeof view->suffix, ".%d-%d", channels[0], channels[1]);
    for (int i = 0; view->seen && i < captures->all; i++) {
        int side = i >= captures->count[LDS_BEFORE];
        bool there = look(side, captures->list[i], channels, &view->seen[view->all]);
        view->count[side] += there;
        view->all += there;
    }
    return view->seen != NULL;
}

void lds_view_key(const struct lds_view *view, const struct lds_figure *figure, char *key, size_t size)
{
    snprintf(key, size, "%.64s%s", figure->key, figure->name.channels[0] > 0 ? "" : view->suffix);
}

void lds_view_free(struct lds_view *view)
{
    free(view->seen);
    *view = (struct lds_view){0};
}

const struct lds_figure *lds_seen_figure(const struct lds_seen *seen, const char *key)
{
    for (size_t i = 0; i < seen->figures; i++)
        if (strcmp(seen->figure[i].key, key) == 0)
            return &seen->figure[i];
    return NULL;
}

const struct lds_series *lds_seen_series(const struct lds_seen *seen, const struct lds_series_kind *kind)
{
    return lds_series_find(seen->series, seen->series_count, kind->key);
}

const struct lds_bench *lds_seen_bench(const struct lds_seen *seen)
{
    return lds_bench_of(&seen->capture->bench, seen->channel ? seen->channel->channel : 0);
}

bool lds_seen_has_tone(const struct lds_seen *seen)
{
    for (size_t c = 0; c < seen->capture->channels; c++) {
        const struct lds_channel *channel = &seen->capture->channel[c];
        if (seen->channel && channel != seen->channel)
            continue;
        if (lds_channel_find(channel, LDS_FIGURE_TONE_LEVEL))
            return true;
    }
    return false;
}

struct lds_played lds_seen_played(const struct lds_seen *seen)
{
    bool any_tone = false;
    for (size_t c = 0; c < seen->capture->channels; c++)
        any_tone = any_tone || lds_channel_find(&seen->capture->channel[c], LDS_FIGURE_TONE_LEVEL);
    struct lds_played played = {seen->channel ? seen->channel->signal.kind : seen->capture->signal.kind,
                                seen->capture->signal.kind};
    if (played.own == LDS_SIGNAL_NONE)
        played.own = lds_seen_has_tone(seen) ? LDS_SIGNAL_SINE : LDS_SIGNAL_SILENCE;
    if (played.all == LDS_SIGNAL_NONE)
        played.all = any_tone ? LDS_SIGNAL_SINE : LDS_SIGNAL_SILENCE;
    return played;
}

static void pick(const struct lds_view *view, const char *key, struct lds_played wanted, struct lds_chosen *chosen)
{
    chosen->count[0] = chosen->count[1] = chosen->all = 0;
    for (int i = 0; i < view->all; i++) {
        const struct lds_seen *seen = &view->seen[i];
        const struct lds_figure *figure = lds_seen_figure(seen, key);
        struct lds_played played = lds_seen_played(seen);
        if (figure && played.own == wanted.own && played.all == wanted.all)
            lds_chosen_add(chosen, seen, figure);
    }
}

enum { KINDS = LDS_SIGNALS - 1 }; /* all but NONE */

/* All kinds of signal, in the order in which they are tried: a sine, then all others, silence before or after them. */
static void put_in_order(bool silence_first, enum lds_signal_kind order[KINDS])
{
    size_t place = 0;
    if (silence_first)
        order[place++] = LDS_SIGNAL_SILENCE;
    order[place++] = LDS_SIGNAL_SINE;
    for (int kind = 0; kind < LDS_SIGNALS; kind++)
        if (kind != LDS_SIGNAL_NONE && kind != LDS_SIGNAL_SILENCE && kind != LDS_SIGNAL_SINE)
            order[place++] = (enum lds_signal_kind)kind;
    if (!silence_first)
        order[place] = LDS_SIGNAL_SILENCE;
}

/* Tries all kinds of signal, in the channel itself and in the capture. */
bool lds_choose(const struct lds_view *view, const char *key, const struct lds_key *row, struct lds_chosen *chosen)
{
    enum lds_signal_kind own[KINDS], all[KINDS];
    if (!lds_chosen_room(chosen, view))
        return false;
    put_in_order(row->section == LDS_NOISE || row->section == LDS_MAINS, own);
    put_in_order(true, all);
    for (int turn = 0; turn < KINDS * KINDS && !lds_chosen_both(chosen); turn++) {
        pick(view, key, (struct lds_played){own[turn / KINDS], all[turn % KINDS]}, chosen);
    }
    return true;
}

bool lds_chosen_room(struct lds_chosen *chosen, const struct lds_view *view)
{
    size_t room = (size_t)view->all + 1;
    *chosen =
        (struct lds_chosen){.seen = calloc(room, sizeof *chosen->seen), .figure = calloc(room, sizeof *chosen->figure)};
    return chosen->seen && chosen->figure;
}

void lds_chosen_add(struct lds_chosen *chosen, const struct lds_seen *seen, const struct lds_figure *figure)
{
    chosen->seen[chosen->all] = seen;
    chosen->figure[chosen->all++] = figure;
    chosen->count[seen->side]++;
}

bool lds_chosen_both(const struct lds_chosen *chosen)
{
    return chosen->count[0] > 0 && chosen->count[1] > 0;
}

void lds_chosen_free(struct lds_chosen *chosen)
{
    free((void *)chosen->seen);
    free((void *)chosen->figure);
    *chosen = (struct lds_chosen){0};
}
