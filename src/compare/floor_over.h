/* The noise floor of a capture over a band that need not be one of its own. */
#ifndef LDS_COMPARE_FLOOR_OVER_H
#define LDS_COMPARE_FLOOR_OVER_H

#include <stdbool.h>

#include "loadside/measurement.h"

/* Mean over [low_hz, high_hz] and its degrees of freedom, from the channel's floor bands: one that is the same band as
 * it is, else the parts that overlap it, a band's power being laid out within it by the slope of its neighbours. false
 * where the floor does not cover the band, or lines left nothing of a part of it. */
bool lds_floor_over(const struct lds_channel *channel, double low_hz, double high_hz, struct lds_floor_band *over);

#endif
