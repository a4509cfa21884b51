/* Adding to the record. */
#ifndef LDS_RECORD_RECORD_H
#define LDS_RECORD_RECORD_H

#include <stdbool.h>

#include "loadside/measurement.h"

/* The flags that figures of a channel get as they are appended. */
struct lds_flag_rules {
    unsigned of[LDS_OF_TONE + 1]; /* by what they are of */
    unsigned chain;               /* of those that the capture chain changes */
};

/* Appends a figure of that key with every number NAN, orders 0, no flags, and the unit from the table of keys ("dBFS"
 * for volts, watts and densities of an uncalibrated channel). If memory runs out this is noted (scarce.h), and the
 * figure returned is in no list. The pointer is valid until the next append. */
struct lds_figure *lds_channel_add(struct lds_channel *channel, const char *key);
struct lds_figure *lds_pair_add(struct lds_pair *pair, const char *key, bool calibrated);

/* Notes that the figure was made from other captures too (see struct lds_figure). false: no memory. */
bool lds_figure_over(struct lds_figure *figure, const int *other, size_t others);

/* Appends an absent key with its reason (printf format) to a list. false: no memory. */
bool lds_absent_add(struct lds_absent **list, size_t *count, const char *key, const char *format, ...)
    __attribute__((format(printf, 4, 5)));
#define lds_channel_add_absent(channel, key, ...)                                                                      \
    lds_absent_add(&(channel)->absent, &(channel)->absents, key, __VA_ARGS__)
/* The same reason for several keys. */
bool lds_absent_add_all(struct lds_absent **list, size_t *count, const char *why, const char *const *keys);
#define lds_channel_all_absent(channel, why, ...)                                                                      \
    lds_absent_add_all(&(channel)->absent, &(channel)->absents, why, (const char *const[]){__VA_ARGS__, NULL})
#define lds_pair_add_absent lds_channel_add_absent /* the members have the same names */
void lds_absents_free(struct lds_absent *absent, size_t count);

/* In the figure's unit; nothing from the bench. */
void lds_figure_set(struct lds_figure *figure, double value, double low, double high, double u_a, double dof);

/* Sets value, low, high and u_a of a level figure from a linear rms value in the channel's unit: volts, or full-scale
 * rms units, which become dBFS by 20 log10(value sqrt 2), AES17; densities likewise. NAN stays NAN; 0 becomes -INFINITY
 * only in dBFS. All four are given as linear values, and a limit below 0 counts as 0; in dBFS u_a is stored as 20 u_a /
 * (value ln 10). */
void lds_figure_set_level(struct lds_figure *figure, bool calibrated, double value, double low, double high,
                          double u_a);

/* The range of a figure of that row in that unit; -INFINITY and INFINITY where there is no bound. */
void lds_key_range(const struct lds_key *row, const char *unit, double *least, double *most);
/* The unit of its figures: "dBFS" for levels of an uncalibrated channel, else that of the row. */
const char *lds_key_unit(const struct lds_key *row, bool calibrated);

/* The key of a band: "noise.band.20-20k". */
void lds_band_key(const char *stem, double low_hz, double high_hz, char key[64]);
/* "20", "20k", "100k": a frequency as written in keys. */
void lds_edge_name(double hz, char *text, size_t size);
/* The part of a key after its stem and a point: "20-20k", "1k", "1-2", "20-20k.1-2"; "" if there is none. */
void lds_figure_detail(const struct lds_figure_name *name, char *text, size_t size);

/* Limits the intervals of all figures to what is possible. Called after the last figure is added. */
void lds_figures_bound(struct lds_figure *figure, size_t count);

#endif
