/* What a stated signal tells: it is found in the capture, and compared with what was played. */
#ifndef LDS_MEASURE_KNOWN_MEASURE_KNOWN_H
#define LDS_MEASURE_KNOWN_MEASURE_KNOWN_H

#include "loadside/capture.h"
#include "measure/asked.h"

/* Reads the capture again: first all of it, decimated, in search of the signal, then the stretch that holds it. Adds
 * to the channels of the measurement. LDS_BAD_INPUT: the capture does not hold the signal; the error says at which
 * second it breaks off. */
enum lds_status lds_known_measure(struct lds_capture *capture, const struct lds_asked *asked,
                                  struct lds_measurement *measurement, struct lds_error *error);

/* The frames at which a stated sine or two tones are steady; 0 frames: another signal, or not known. Errors as above.
 */
enum lds_status lds_known_span(struct lds_capture *capture, const struct lds_asked *asked, int64_t *first,
                               int64_t *frames, struct lds_error *error);

#endif
