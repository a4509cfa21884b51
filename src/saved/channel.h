/* Channels and pairs of a saved result. */
#ifndef LDS_SAVED_CHANNEL_H
#define LDS_SAVED_CHANNEL_H

#include "loadside/measurement.h"
#include "saved/parts.h"

/* The member "signal" of a capture or a channel. */
void lds_saved_signal(struct lds_saved_reader *reader, const json_t *object, struct lds_signal *signal);

/* Read a channel, or after the channels a pair; the context is the measurement. The memory filled belongs to the
 * channel or pair, even after an error. */
lds_saved_read_one lds_saved_channel, lds_saved_channel_pair;

#endif
