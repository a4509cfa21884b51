/* Finds a stated signal in the capture and compares it with what was played. */
#ifndef LDS_MEASURE_KNOWN_MEASURE_KNOWN_H
#define LDS_MEASURE_KNOWN_MEASURE_KNOWN_H

#include "loadside/capture.h"
#include "measure/asked.h"
#include "measure/known/known.h"
#include "measure/known/transfer.h"

/* Reads the capture again: first all of it, decimated, in search of the signal, then the stretch that holds it. Adds
 * to the channels of the measurement. LDS_BAD_INPUT: the capture does not hold the signal; the error says at which
 * second it breaks off. */
enum lds_status lds_known_measure(struct lds_capture *capture, const struct lds_asked *asked,
                                  struct lds_measurement *measurement, struct lds_error *error);

/* The frames at which a stated sine or two tones are steady; 0 frames: another signal, or not known. Errors as above.
 */
enum lds_status lds_known_span(struct lds_capture *capture, const struct lds_asked *asked, int64_t *first,
                               int64_t *frames, struct lds_error *error);

/* A stated sweep in one channel, and its transfer function from the signal as it was played, its delay (of known.begin)
 * taken out. */
struct lds_known_transfer {
    struct lds_known known;
    struct lds_transfer transfer; /* no points: the channel does not hold the sweep, or not all of it */
};

/* The transfers of all channels asked for; `of` must have room for them. place: where the sweep is and at which clock,
 * if that is known better than this capture alone tells; else NULL. Errors as above. Free each transfer in any case. */
enum lds_status lds_known_transfers(struct lds_capture *capture, const struct lds_asked *asked,
                                    const struct lds_known *place, struct lds_known_transfer *of,
                                    struct lds_error *error);

#endif
