/* The response of each channel against one that recorded the amplifier's input: whatever was played, as long as it
 * holds the frequencies. */
#ifndef LDS_MEASURE_KNOWN_REFERENCE_CHANNEL_H
#define LDS_MEASURE_KNOWN_REFERENCE_CHANNEL_H

#include "measure/asked.h"

/* Reads the capture again, or its middle if it is long. Adds response.* and gain to the other channels measured. */
enum lds_status lds_reference_measure(struct lds_capture *capture, const struct lds_asked *asked,
                                      struct lds_measurement *measurement, struct lds_error *error);

#endif
