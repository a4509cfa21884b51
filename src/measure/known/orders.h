/* Distortion over the frequency of the fundamental, order by order, from the impulse response of a sweep. */
#ifndef LDS_MEASURE_KNOWN_ORDERS_H
#define LDS_MEASURE_KNOWN_ORDERS_H

#include "loadside/bench.h"
#include "measure/known/impulse.h"
#include "record/record.h"

enum { LDS_ORDERS_LAST = 9 };

/* Appends distortion.by_frequency.* and thd.at.*, or why they are absent. linear: the bins of order 1. false: no
 * memory. */
bool lds_orders_figures(const struct lds_impulse *impulse, const struct lds_transfer_bins *linear,
                        const struct lds_bench *bench, double usable_hz, struct lds_channel *channel);

#endif
