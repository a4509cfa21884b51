/* The noise floor of a capture over a band that need not be one of its own. */
#ifndef LDS_COMPARE_FLOOR_OVER_H
#define LDS_COMPARE_FLOOR_OVER_H

#include <stdbool.h>

#include "loadside/series.h"

/* Mean over [low_hz, high_hz] and its degrees of freedom, from the rows of the floor: one that is the same band as it
 * is, else the parts that overlap it, a band's power being laid out within it by the slope of its neighbours. false
 * where the floor does not cover the band, or lines left nothing of a part of it. */
bool lds_floor_over(const struct lds_series *floor, double low_hz, double high_hz, double *mean, double *dof);

#endif
