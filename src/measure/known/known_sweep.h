/* Response and distortion over frequency from a sweep. */
#ifndef LDS_MEASURE_KNOWN_KNOWN_SWEEP_H
#define LDS_MEASURE_KNOWN_KNOWN_SWEEP_H

#include "loadside/bench.h"
#include "measure/known/sweep_filter.h"
#include "measure/known/transfer.h"
#include "record/record.h"

/* spectra: of the channel, in the filter's bands. response_too: else only the distortion. channel NULL: it gets
 * neither. transfer: of the linear part, from twice the first frequency on. false: no memory. */
bool lds_known_sweep(const struct lds_sweep_filter *filter, const struct lds_sweep_spectra *spectra,
                     const struct lds_known *known, const struct lds_bench *bench, bool response_too,
                     struct lds_channel *channel, struct lds_transfer *transfer);

#endif
