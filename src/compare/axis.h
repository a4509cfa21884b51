/* One series of one channel or pair along its axis, on both sides, while it is compared. */
#ifndef LDS_COMPARE_AXIS_H
#define LDS_COMPARE_AXIS_H

#include "compare/work.h"

struct lds_band { /* of the noise floor, or a point of another series */
    double x, from, to;
    struct lds_reading *reading; /* in lds_series_change_unit, one for each capture, one side after the other */
    struct lds_fact fact;        /* of its stretch */
    bool called;
};

struct lds_axis {
    const struct lds_view *view;
    struct lds_part *of[2]; /* the channel, or both of the pair */
    const struct lds_series_kind *kind;
    struct lds_band *band;
    size_t bands;
    struct lds_reading *reading; /* of all bands, and one more for bands that are joined */
    int count[2], captures;      /* of each side, and in total */
    struct lds_delta_way way;
    double matters; /* NAN: nothing is judged */
};

/* Reads the bands or points that the captures of both sides have in common; view, channels and kind must be set. false:
 * no memory. Free *axis with lds_axis_free in either case. */
bool lds_axis_read(struct lds_work *work, struct lds_axis *axis);
void lds_axis_free(struct lds_axis *axis);

/* A stretch of an axis with the same change, within its noise. */
struct lds_stretch {
    size_t first, last; /* of the values in it */
    double mean;        /* with statistical weights */
    double weight;      /* the sum of 1/u^2 */
    bool touches;       /* the stretch before it */
};

/* Joins neighbouring stretches that touch, the most similar first, until those left differ by more than chance. Each
 * starts as one value, independent of the others. Returns how many are left, in order. */
size_t lds_stretches_join(struct lds_stretch *stretch, size_t count);

#endif
