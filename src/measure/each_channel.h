/* The same work for every channel, in parallel. */
#ifndef LDS_MEASURE_EACH_CHANNEL_H
#define LDS_MEASURE_EACH_CHANNEL_H

#include <stdbool.h>
#include <stddef.h>

#include "loadside/measure.h"

/* How many threads were asked for; as many as there are cores if none were. */
int lds_threads(const struct lds_measure_options *options);

/* Runs `run` once for each of `channels`, at most LDS_CHANNELS_MAX. false when one of them failed. */
bool lds_each_channel(size_t channels, int threads, bool (*run)(void *context, size_t index), void *context);

#endif
