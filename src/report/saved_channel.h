/* Channels and pairs of a saved result. */
#ifndef LDS_REPORT_SAVED_CHANNEL_H
#define LDS_REPORT_SAVED_CHANNEL_H

#include "loadside/measurement.h"
#include "report/saved_parts.h"

/* Fills what stands in object. What was filled belongs to the channel or pair, also after an error. */
/* The member "signal" of a capture or a channel. */
void lds_saved_signal(struct lds_saved_reader *reader, const json_t *object, struct lds_signal *signal);
void lds_saved_channel(struct lds_saved_reader *reader, const json_t *object, struct lds_channel *channel);
/* The channels of the measurement are known already. */
void lds_saved_channel_pair(struct lds_saved_reader *reader, const json_t *object,
                            const struct lds_measurement *measurement, struct lds_pair *pair);

#endif
