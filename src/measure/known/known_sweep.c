#include "measure/known/known_sweep.h"

#include <math.h>

#include "constants.h"
#include "measure/known/orders.h"
#include "measure/known/response.h"

bool lds_known_sweep(const struct lds_sweep_filter *filter, const double complex *spectrum,
                     const struct lds_known *known, const struct lds_bench *bench, bool response_too,
                     struct lds_channel *channel)
{
    struct lds_impulse linear = {0}, orders = {0};
    struct lds_transfer_bins bins = {0}, low = {0};
    const double *hz = known->spec->frequency_hz;
    const double usable_hz = fmin(LDS_USABLE_SHARE * filter->rate_hz, bench->usable_to_hz);
    bool memory = lds_impulse_make(&linear, filter, LDS_IMPULSE_LINEAR, spectrum) &&
                  lds_impulse_bins(&linear, 1, &bins) && lds_impulse_bins(&linear, 0, &low);
    lds_impulse_free(&linear);
    if (memory) {
        bins.delay_s += (known->begin - filter->known->begin) / filter->rate_hz;
        low.delay_s = bins.delay_s;
        const struct lds_response response = {.bins = &bins,
                                              .low = &low,
                                              .low_to_hz = 1.9 * hz[0],
                                              .low_hz = hz[0],
                                              .high_hz = fmin(hz[1], usable_hz),
                                              .bench = bench,
                                              .in_volts = bench->play_full_scale_v,
                                              .inverted = known->inverted > 0,
                                              .phase = known->spec->repeats > 1,
                                              .no_phase =
                                                  "of a single sweep the phase depends on the clock: repeat it, "
                                                  "or capture the input too"};
        memory = (!response_too || lds_response_figures(&response, channel)) &&
                 lds_impulse_make(&orders, filter, LDS_IMPULSE_ORDERS, spectrum) &&
                 lds_orders_figures(&orders, &bins, bench, usable_hz, channel);
    }
    lds_impulse_bins_free(&bins);
    lds_impulse_bins_free(&low);
    lds_impulse_free(&orders);
    return memory;
}
