/* Response and distortion over frequency from a sweep. */
#ifndef LDS_MEASURE_KNOWN_KNOWN_SWEEP_H
#define LDS_MEASURE_KNOWN_KNOWN_SWEEP_H

#include "loadside/bench.h"
#include "measure/known/sweep_filter.h"
#include "measure/known/transfer.h"

/* spectra: of the channel, in the filter's bands. response_too: else only the distortion. transfer: as
 * below; NULL: not wanted. false: no memory. */
bool lds_known_sweep(const struct lds_sweep_filter *filter, const struct lds_sweep_spectra *spectra,
                     const struct lds_known *known, const struct lds_bench *bench, bool response_too,
                     struct lds_channel *channel, struct lds_transfer *transfer);

/* The transfer function alone, LDS_RESPONSE_POINTS an octave from the first frequency on. */
bool lds_known_sweep_transfer(const struct lds_sweep_filter *filter, const struct lds_sweep_spectra *spectra,
                              const struct lds_known *known, const struct lds_bench *bench,
                              struct lds_transfer *transfer);

#endif
