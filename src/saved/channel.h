/* Channels and pairs of a saved result. */
#ifndef LDS_SAVED_CHANNEL_H
#define LDS_SAVED_CHANNEL_H

#include "loadside/measurement.h"
#include "saved/parts.h"

/* The member "signal" of a capture or a channel. */
void lds_saved_signal(struct lds_saved_reader *reader, const json_t *object, struct lds_signal *signal);

/* A channel of the measurement, which is the context; a pair, after the channels. What was filled belongs to them, even
 * after an error. */
lds_saved_read_one lds_saved_channel, lds_saved_channel_pair;

#endif
