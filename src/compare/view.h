/* What the two sides hold of one channel, or of one pair of channels. */
#ifndef LDS_COMPARE_VIEW_H
#define LDS_COMPARE_VIEW_H

#include <stdbool.h>
#include <stddef.h>

#include "loadside/compare.h"

enum { LDS_BEFORE, LDS_AFTER };

struct lds_captures { /* of both sides: those before first, then those after */
    const struct lds_measurement **list;
    int count[2], all;
};

struct lds_seen { /* one capture's part */
    int side;
    const struct lds_measurement *capture;
    const struct lds_channel *channel; /* NULL for a pair */
    const struct lds_figure *figure;
    const struct lds_absent *absent;
    const struct lds_series *series;
    size_t figures, absents, series_count;
};

struct lds_view {
    int channels[2];       /* the second is 0 where it is one channel */
    char suffix[24];       /* of a pair's keys that do not say it themselves, ".1-2" */
    struct lds_seen *seen; /* those before first */
    int count[2], all;
};

/* The captures that hold a key under the same condition, those before first. */
struct lds_chosen {
    const struct lds_seen **seen;
    const struct lds_figure **figure;
    int count[2], all;
};

/* A channel (the second is then 0) or a pair, in those captures of both sides that have it. false: no memory; it is to
 * be freed also then. */
bool lds_view_open(struct lds_view *view, const struct lds_captures *captures, const int channels[2]);
void lds_view_free(struct lds_view *view);

struct lds_seen lds_seen_channel(int side, const struct lds_measurement *capture, const struct lds_channel *channel);

/* The key of a figure as the comparison has it: that of a pair says which channels. */
void lds_view_key(const struct lds_view *view, const struct lds_figure *figure, char *key, size_t size);

const struct lds_figure *lds_seen_figure(const struct lds_seen *seen, const char *key);
const struct lds_series *lds_seen_series(const struct lds_seen *seen, const char *key);
bool lds_seen_has_tone(const struct lds_seen *seen);

/* What was played: in the channel itself, and in the channel of the capture with the highest level. Results that do not
 * say it are taken for a sine where they hold a tone, else for idle. */
struct lds_played {
    enum lds_signal_kind own, all;
};
struct lds_played lds_seen_played(const struct lds_seen *seen);

/* Captures that can be laid side by side for a key: in all of them the same kind of signal was played; where a side
 * holds several, noise and hum come from the idle ones and all else from those with a tone first. false: no memory. */
bool lds_choose(const struct lds_view *view, const char *key, const struct lds_key *row, struct lds_chosen *chosen);
/* Room for all captures of the view, of which none is chosen yet, and one more chosen; figure may be NULL. */
bool lds_chosen_room(struct lds_chosen *chosen, const struct lds_view *view);
void lds_chosen_add(struct lds_chosen *chosen, const struct lds_seen *seen, const struct lds_figure *figure);
bool lds_chosen_both(const struct lds_chosen *chosen); /* some of each side */
void lds_chosen_free(struct lds_chosen *chosen);

/* Why the chosen captures' figures of a key may not be compared, into reason; false when they may. */
bool lds_not_comparable(const struct lds_view *view, const struct lds_chosen *chosen, const char *key,
                        const struct lds_key *row, char reason[256]);

/* The same for two captures that both hold the key, called by name in the reason. */
bool lds_figures_differ(const struct lds_seen *const seen[2], const char *const name[2], const char *key,
                        const struct lds_key *row, char reason[256]);

/* Do the sides share full scale, attenuation and load, so that what the bench does not know cancels? */
bool lds_bench_is_shared(const struct lds_chosen *chosen);

#endif
