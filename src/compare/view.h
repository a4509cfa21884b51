/* What both sides have of one channel or one pair of channels. */
#ifndef LDS_COMPARE_VIEW_H
#define LDS_COMPARE_VIEW_H

#include <stdbool.h>
#include <stddef.h>

#include "loadside/compare.h"

enum { LDS_BEFORE, LDS_AFTER };

struct lds_captures { /* of both sides: first those before, then those after */
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
    int channels[2];       /* the second is 0 for a single channel */
    char suffix[24];       /* for keys of a pair that do not name the channels themselves, ".1-2" */
    struct lds_seen *seen; /* first those before */
    int count[2], all;
};

/* The captures that have a key under the same conditions, those of the side before first. */
struct lds_chosen {
    const struct lds_seen **seen;
    const struct lds_figure **figure;
    int count[2], all;
};

/* A channel (the second is then 0) or a pair, in the captures of both sides that have it. false: no memory; free it in
 * either case. */
bool lds_view_open(struct lds_view *view, const struct lds_captures *captures, const int channels[2]);
void lds_view_free(struct lds_view *view);

struct lds_seen lds_seen_channel(int side, const struct lds_measurement *capture, const struct lds_channel *channel);

/* The key of a figure as used in the comparison: that of a pair includes the channels. */
void lds_view_key(const struct lds_view *view, const struct lds_figure *figure, char *key, size_t size);

const struct lds_figure *lds_seen_figure(const struct lds_seen *seen, const char *key);
const struct lds_series *lds_seen_series(const struct lds_seen *seen, const struct lds_series_kind *kind);
/* The bench of the channel; of a pair, of the capture. */
const struct lds_bench *lds_seen_bench(const struct lds_seen *seen);
bool lds_seen_has_tone(const struct lds_seen *seen);

/* What was played: in the channel itself, and in the channel of the capture with the highest level. Results without
 * this information count as a sine if they have a tone, else as idle. */
struct lds_played {
    enum lds_signal_kind own, all;
};
struct lds_played lds_seen_played(const struct lds_seen *seen);

/* The captures that are comparable for a key: the same kind of signal was played in all of them. If a side has several
 * kinds, noise and hum come preferably from idle captures, everything else from those with a tone. false: no memory. */
bool lds_choose(const struct lds_view *view, const char *key, const struct lds_key *row, struct lds_chosen *chosen);
/* lds_chosen_room makes room for all captures of the view, none chosen yet; lds_chosen_add adds one, whose figure may
 * be NULL. */
bool lds_chosen_room(struct lds_chosen *chosen, const struct lds_view *view);
void lds_chosen_add(struct lds_chosen *chosen, const struct lds_seen *seen, const struct lds_figure *figure);
bool lds_chosen_both(const struct lds_chosen *chosen); /* there are some of each side */
void lds_chosen_free(struct lds_chosen *chosen);

/* Whether a figure includes the whole power of a signal that is not steady; it then says little about the amplifier. */
bool lds_is_of_moving(const struct lds_seen *seen, const struct lds_key *row, char reason[256]);

/* Why the chosen captures' figures of a key are not comparable, into reason; false if they are. */
bool lds_not_comparable(const struct lds_view *view, const struct lds_chosen *chosen, const char *key,
                        const struct lds_key *row, char reason[256]);

/* The same for two captures that both hold the key, called by name in the reason. */
bool lds_figures_differ(const struct lds_seen *const seen[2], const char *const name[2], const char *key,
                        const struct lds_key *row, char reason[256]);

/* Do the sides share full scale, attenuation and load, so that what the bench does not know cancels? */
bool lds_bench_is_shared(const struct lds_chosen *chosen);

#endif
