/* Distortion over the frequency of the fundamental, order by order, from the impulse response of a sweep. */
#ifndef LDS_MEASURE_KNOWN_ORDERS_H
#define LDS_MEASURE_KNOWN_ORDERS_H

#include "loadside/bench.h"
#include "measure/known/sweep_bands.h"
#include "measure/known/transfer.h"
#include "record/record.h"

struct lds_orders {
    const struct lds_signal_spec *spec;
    double length_s;                                         /* L of the sweep */
    const struct lds_transfer_bins *of[LDS_ORDERS_LAST + 1]; /* from 1, the linear one */
    const struct lds_bench *bench;
    double usable_hz;
};

/* Appends distortion.by_frequency.* and thd.at.*, or why they are absent. false: no memory. */
bool lds_orders_figures(const struct lds_orders *orders, struct lds_channel *channel);

#endif
