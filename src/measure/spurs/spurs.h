/* Lines above the floor other than the tone, its harmonics and the mains orders already known. */
#ifndef LDS_MEASURE_SPURS_SPURS_H
#define LDS_MEASURE_SPURS_SPURS_H

#include <stdbool.h>
#include <stddef.h>

#include "loadside/series.h"
#include "measure/noise/noise.h"
#include "measure/spurs/lines.h"

/* Probability that a whole spectrum of noise shows a false spur. */
extern const double LDS_SPURS_FALSE_ALARM;

#define LDS_SPUR_SECOND_TONE "second tone" /* an origin */

enum { LDS_SPURS_MAX = 200 };

struct lds_spur_list;

struct lds_spur_request {
    const struct lds_lines *known;      /* for naming origins: tone, harmonics, mains orders */
    double tone_hz;                     /* NAN: none */
    double second_hz;                   /* of a second tone; NAN: none */
    double mains_hz;                    /* NAN: not found */
    double mains_spread_hz;             /* half-width of the wander of mains_hz */
    double clock_ppm;                   /* limits of the sampling clock relative to other clocks */
    double false_alarm;                 /* LDS_SPURS_FALSE_ALARM, or another */
    double barred_hz[2];                /* range not to be searched; both 0: search everything */
    const struct lds_spur_list *others; /* found there by other means and known to the floor; NULL: none */
};

struct lds_spur {
    double frequency_hz;
    double level;     /* rms in full-scale units */
    double margin_db; /* peak over the detection threshold */
    double spread_hz;
    double tolerance_hz; /* uncertainty of its frequency */
    char origin[LDS_SERIES_TEXT];
};

struct lds_spur_list {
    size_t count; /* in order of frequency */
    struct lds_spur *spur;
};

/* Searches every bin from 10 Hz (or the 8th) to the usable end that no known line takes. false: no memory. Free *found
 * with lds_spur_list_free. */
bool lds_spurs_find(const struct lds_floor *floor, const struct lds_spur_request *request, struct lds_spur_list *found);
void lds_spur_list_free(struct lds_spur_list *found);

/* Adds the spurs of another list. false: no memory. */
bool lds_spurs_merge(struct lds_spur_list *found, const struct lds_spur_list *more);

/* Names the origin of each spur of a list again: "mains order 42", "sideband of the tone at +2 fm", ... */
void lds_spurs_name(struct lds_spur_list *found, const struct lds_spur_request *request);

/* Appends the spurs to the known lines, so that the floor can be computed without them. false: no memory. */
bool lds_spurs_append(const struct lds_spur_list *found, struct lds_lines *lines);

/* Adds the spurs, as levels at the load, to the channel's record. false: no memory. */
bool lds_spurs_record(struct lds_channel *channel, const struct lds_spur_list *found,
                      const struct lds_noise_scale *scale);

/* The origin of spur `which`. */
void lds_spur_origin(const struct lds_spur_request *request, const struct lds_spur_list *found, size_t which,
                     char origin[64]);

#endif
