#include "measure/pair/pairs.h"

#include <math.h>
#include <string.h>

#include "measure/noise/noise.h"
#include "measure/pair/crosstalk.h"
#include "measure/pair/pair_scale.h"
#include "measure/statistics/uncertainty.h"
#include "record/record.h"
#include "scarce.h"

/* ---- coherence ---- */

static bool add_coherence(struct lds_pair *pair, const struct lds_findings *a, const struct lds_findings *b,
                          const struct lds_coherence *coherence, const struct lds_band *asked)
{
    char key[64];
    double low_hz = asked->low_hz, high_hz = asked->high_hz;
    lds_band_key("noise.coherence", low_hz, high_hz, key);
    if (a->unsteady[0] || b->unsteady[0])
        return lds_pair_add_absent(pair, key, "%s", a->unsteady[0] ? a->unsteady : b->unsteady);
    if (!coherence)
        return lds_pair_add_absent(pair, key, "coherence is measured for captures of at most 8 channels");
    double end_hz = fmin(high_hz, fmin(a->end_hz, b->end_hz));
    if (end_hz - low_hz < 0.5 * (high_hz - low_hz))
        return lds_pair_add_absent(pair, key, "the capture ends at %.6g Hz: less than half of the band", end_hz);
    struct lds_coherence_band band;
    if (!lds_coherence_in_band(coherence, &a->floor, &b->floor, low_hz, end_hz, &band))
        return lds_pair_add_absent(pair, key, "the capture is too short for an average in this band");
    struct lds_figure *figure = lds_pair_add(pair, key, true);
    double u_a = (band.high - band.low) / (2.0 * lds_coverage(INFINITY));
    lds_figure_set(figure, band.value, band.low, band.high, u_a, INFINITY);
    figure->band_hz[0] = low_hz;
    figure->band_hz[1] = end_hz;
    if (end_hz < high_hz)
        figure->flags |= LDS_FLAG_BAND_CUT;
    return true;
}

/* ---- balance ---- */

static double tone_u_db(const struct lds_findings *f)
{
    const struct lds_level *level = lds_density_level(&f->density, f->track.frequency_hz);
    double density = lds_floor_density(&f->floor, f->track.frequency_hz, 20.0 * level->bin_hz, NULL);
    return 20.0 / M_LN10 * sqrt(0.5 * density / (f->seconds * f->track.share)) / f->track.level;
}

static bool add_balance(struct lds_pair *pair, const struct lds_findings *a, const struct lds_findings *b)
{
    const struct lds_findings *const both[2] = {a, b};
    if (a->driven->undriven && b->driven->undriven)
        return lds_pair_add_absent(pair, "balance", "no channel is driven");
    for (int i = 0; i < 2 && a->has_tone != b->has_tone; i++)
        if (both[i]->driven->undriven)
            return lds_pair_add_absent(pair, "balance", "channel %d is not driven", pair->channels[i]);
    if (!a->has_tone || !b->has_tone)
        return lds_pair_add_absent(pair, "balance", "not both channels carry a tone");
    if (!lds_share_tone(a, b))
        return lds_pair_add_absent(pair, "balance", "the channels carry different tones");
    struct lds_pair_scale scale;
    const bool calibrated[] = {a->calibrated, b->calibrated};
    if (!lds_pair_scale(&a->options->bench, pair->channels, calibrated, a->info->in_volts, a->track.frequency_hz,
                        &scale))
        return lds_pair_add_absent(pair, "balance", "%s", LDS_PAIR_UNLIKE);
    struct lds_figure *figure = lds_pair_add(pair, "balance", true);
    double value = 20.0 * log10(b->track.level / a->track.level) + scale.db;
    lds_figure_set_normal(figure, value, hypot(tone_u_db(a), tone_u_db(b)), INFINITY);
    if (scale.u_db > 0.0)
        lds_figure_add_bench(figure, scale.u_db);
    return true;
}

bool lds_pair_figures(struct lds_pair *pair, const struct lds_findings *a, const struct lds_findings *b,
                      const struct lds_coherence *coherence)
{
    /* Of a sweep, balance and crosstalk follow later, from the responses. */
    const bool swept = a->options->known.kind == LDS_SIGNAL_SWEEP;
    if (!swept && !(add_balance(pair, a, b) && lds_crosstalk_figures(pair, a, b, coherence)))
        return false;
    for (size_t i = 0; i < LDS_NOISE_BANDS; i++)
        if (!add_coherence(pair, a, b, coherence, &lds_noise_bands[i]))
            return false;
    for (size_t i = 0; i < a->options->bands; i++)
        if (!add_coherence(pair, a, b, coherence, &a->options->band[i]))
            return false;
    return !lds_scarce_take();
}
