/* The shape of the noise floor over frequency: its curve, 1/f corner and slope. */
#ifndef LDS_MEASURE_NOISE_SHAPE_H
#define LDS_MEASURE_NOISE_SHAPE_H

#include "measure/noise/noise.h"

/* Adds the series floor: 24 bands a decade from 10 Hz to the usable end, wider ones where those would hold less than 8
 * independent bins. false: no memory. */
bool lds_noise_curve(struct lds_channel *channel, const struct lds_floor *floor, const struct lds_noise_scale *scale);

/* Appends noise.corner and noise.slope, or the reasons why they are absent. false: no memory. */
bool lds_noise_shape(struct lds_channel *channel, const struct lds_floor *floor, const struct lds_noise_scale *scale);

#endif
