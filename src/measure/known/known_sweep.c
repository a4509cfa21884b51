#include "measure/known/known_sweep.h"

#include <math.h>

#include "constants.h"
#include "measure/known/impulse.h"
#include "measure/known/orders.h"
#include "measure/known/response.h"

static const double LOW_PART = 1.9; /* times the first frequency: below this, the longer linear part is used */

/* The transfer functions of a channel. */
struct parts {
    struct lds_transfer_bins low; /* the longer linear part of the lowest band */
    struct lds_transfer_bins order[LDS_ORDERS_LAST + 1][LDS_SWEEP_BANDS]; /* from 1; one band above the other */
};

/* Linear response and distortion are parts of one impulse response. */
static bool cut_band(const struct lds_sweep_filter *filter, const struct lds_sweep_spectra *spectra, size_t i,
                     struct parts *parts)
{
    const struct lds_sweep_band *band = &filter->bands->band[i];
    const struct lds_spectrum spectrum = {band->n, band->plan, spectra->of[i]};
    struct lds_impulse impulse;
    bool memory =
        lds_impulse_make(&impulse, filter->bands, band, filter->known, filter->inverse[i], &spectrum, spectra->scratch);
    for (int k = 1; memory && k <= LDS_ORDERS_LAST; k++)
        memory = lds_impulse_bins(&impulse, k, &parts->order[k][i]);
    if (memory && i == 0)
        memory = lds_impulse_bins(&impulse, 0, &parts->low);
    parts->order[1][i].in = filter->end[i];
    lds_impulse_free(&impulse);
    return memory;
}

static void join_bands(const struct lds_sweep_bands *bands, struct parts *parts)
{
    for (int k = 1; k <= LDS_ORDERS_LAST; k++)
        for (size_t i = 0; i + 1 < bands->count; i++) {
            parts->order[k][i].above = &parts->order[k][i + 1];
            parts->order[k][i].to_hz = bands->band[i].high_hz;
        }
}

/* Uncertainty of the method just above low_to_hz, from simulations without noise of sweeps that begin at 1 to 20 Hz and
 * take 2 to 20 s, through corners at 0.34 and 3.4 Hz. It grows when the sweep makes fewer turns near its beginning, and
 * when short repeats leave no room for a long part. */
static double near_db(const struct lds_signal_spec *spec)
{
    const double from_hz = spec->frequency_hz[0];
    const double least = 1e-3 + 0.034 / (from_hz * lds_sweep_length_s(spec)) * fmin(1.0, 2.0 / from_hz);
    return least * pow(lds_impulse_shorter(spec), -6.5);
}

static double rate_of(const struct lds_sweep_filter *filter)
{
    return ldexp(filter->bands->band[0].rate_hz, filter->bands->band[0].shift);
}

static bool add_response(const struct parts *parts, const struct lds_known *known, const struct lds_bench *bench,
                         double usable_hz, struct lds_channel *channel)
{
    const double *hz = known->spec->frequency_hz;
    const struct lds_response response = {.bins = parts->order[1],
                                          .low = &parts->low,
                                          .low_to_hz = LOW_PART * hz[0],
                                          .near_db = near_db(known->spec),
                                          .shorter = lds_impulse_shorter(known->spec),
                                          .low_hz = hz[0],
                                          .high_hz = fmin(hz[1], usable_hz),
                                          .bench = bench,
                                          .in_volts = bench->play_full_scale_v,
                                          .inverted = known->inverted > 0,
                                          .phase = known->spec->repeats > 1,
                                          .no_phase =
                                              "the phase from a single sweep depends on the clock: repeat it, or "
                                              "capture the input too"};
    return lds_response_figures(&response, channel);
}

/* Of all bands, joined. */
static bool make_parts(const struct lds_sweep_filter *filter, const struct lds_sweep_spectra *spectra,
                       const struct lds_known *known, struct parts *parts)
{
    const struct lds_sweep_bands *bands = filter->bands;
    bool memory = true;
    for (size_t i = 0; memory && i < bands->count; i++) {
        memory = cut_band(filter, spectra, i, parts);
        parts->order[1][i].delay_s += (known->begin - filter->known->begin) / rate_of(filter);
    }
    parts->low.delay_s = parts->order[1][0].delay_s;
    join_bands(bands, parts);
    return memory;
}

static void free_parts(const struct lds_sweep_filter *filter, struct parts *parts)
{
    for (int k = 1; k <= LDS_ORDERS_LAST; k++)
        for (size_t i = 0; i < filter->bands->count; i++)
            lds_impulse_bins_free(&parts->order[k][i]);
    lds_impulse_bins_free(&parts->low);
}

/* The linear part, from the first frequency of the sweep on. */
static bool fit_transfer(const struct parts *parts, const struct lds_known *known, double usable_hz,
                         struct lds_transfer *transfer)
{
    const double *hz = known->spec->frequency_hz;
    if (!lds_transfer_fit(parts->order[1], hz[0], fmin(hz[1], usable_hz), LDS_RESPONSE_POINTS, transfer))
        return false;
    for (size_t i = 0; i < transfer->count && transfer->point[i].hz < LOW_PART * hz[0]; i++)
        lds_transfer_at(&parts->low, transfer->point[i].hz, LDS_RESPONSE_POINTS, &transfer->point[i]);
    return true;
}

bool lds_known_sweep(const struct lds_sweep_filter *filter, const struct lds_sweep_spectra *spectra,
                     const struct lds_known *known, const struct lds_bench *bench, bool response_too,
                     struct lds_channel *channel, struct lds_transfer *transfer)
{
    const double usable_hz = fmin(LDS_USABLE_SHARE * rate_of(filter), bench->usable_to_hz);
    struct parts parts = {0};
    bool memory = make_parts(filter, spectra, known, &parts);
    memory = memory && (!transfer || fit_transfer(&parts, known, usable_hz, transfer));
    memory = memory && (!response_too || add_response(&parts, known, bench, usable_hz, channel));
    const struct lds_orders orders = {.spec = known->spec,
                                      .length_s = lds_sweep_length_s(known->spec),
                                      .bench = bench,
                                      .usable_hz = usable_hz,
                                      .of = {NULL, parts.order[1], parts.order[2], parts.order[3], parts.order[4],
                                             parts.order[5], parts.order[6], parts.order[7], parts.order[8],
                                             parts.order[9]}};
    memory = memory && lds_orders_figures(&orders, channel);
    free_parts(filter, &parts);
    return memory;
}

bool lds_known_sweep_transfer(const struct lds_sweep_filter *filter, const struct lds_sweep_spectra *spectra,
                              const struct lds_known *known, const struct lds_bench *bench,
                              struct lds_transfer *transfer)
{
    struct parts parts = {0};
    const double usable_hz = fmin(LDS_USABLE_SHARE * rate_of(filter), bench->usable_to_hz);
    const bool memory = make_parts(filter, spectra, known, &parts) && fit_transfer(&parts, known, usable_hz, transfer);
    free_parts(filter, &parts);
    return memory;
}
