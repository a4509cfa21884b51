/* The noise floor of a capture over any band, not only its own bands. */
#ifndef LDS_COMPARE_FLOOR_OVER_H
#define LDS_COMPARE_FLOOR_OVER_H

#include <stdbool.h>

#include "loadside/series.h"

/* Mean over [low_hz, high_hz] and its degrees of freedom, from the rows of the floor: an identical band as it is, else
 * the parts that overlap it, with each band's power distributed by the slope of its neighbours. false where the floor
 * does not cover the band, or lines left nothing in a part of it. */
bool lds_floor_over(const struct lds_series *floor, double low_hz, double high_hz, double *mean, double *dof);

#endif
