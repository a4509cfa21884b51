/* Channels and pairs of a saved result. */
#ifndef LDS_REPORT_SAVED_CHANNEL_H
#define LDS_REPORT_SAVED_CHANNEL_H

#include "loadside/measurement.h"
#include "report/saved_parts.h"

/* The member "signal" of a capture or a channel. */
void lds_saved_signal(struct lds_saved_reader *reader, const json_t *object, struct lds_signal *signal);

/* A channel of the measurement that is the context; a pair, once the channels are known. What was filled belongs to
 * them, also after an error. */
lds_saved_read_one lds_saved_channel, lds_saved_channel_pair;

#endif
