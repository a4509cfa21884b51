/* One series of one channel or pair along its axis, on both sides, while it is compared. */
#ifndef LDS_COMPARE_AXIS_H
#define LDS_COMPARE_AXIS_H

#include "compare/work.h"

struct lds_band { /* of the noise floor, or a point of another series */
    double x, from, to;
    struct lds_reading *reading; /* in lds_series_change_unit, of each capture, one side after the other */
    struct lds_fact fact;        /* of the stretch that it lies in */
    bool called;
};

struct lds_axis {
    const struct lds_view *view;
    struct lds_part *of[2]; /* the channel, or both of the pair */
    const struct lds_series_kind *kind;
    struct lds_band *band;
    size_t bands;
    struct lds_reading *reading; /* of all bands, and of one more for what is joined */
    int count[2], captures;      /* of each side, and in all */
    struct lds_delta_way way;
    double matters; /* NAN: nothing is judged */
};

/* Reads the bands or points that the captures of both sides have in common, of the view, channels and kind set before.
 * false: no memory. To be ended by lds_axis_free, also then. */
bool lds_axis_read(struct lds_work *work, struct lds_axis *axis);
void lds_axis_free(struct lds_axis *axis);

#endif
