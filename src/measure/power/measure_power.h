/* Power, distortion over power, and gain, from captures in which a tone steps in level. */
#ifndef LDS_MEASURE_POWER_MEASURE_POWER_H
#define LDS_MEASURE_POWER_MEASURE_POWER_H

#include "measure/asked.h"

/* Where a channel of the measurement holds a staircase, reads the capture twice more: to find the plateaus, and to
 * measure each of them. Adds to the channels; does nothing where there is no staircase. */
enum lds_status lds_power_measure(struct lds_capture *capture, const struct lds_asked *asked,
                                  struct lds_measurement *measurement, struct lds_error *error);

#endif
