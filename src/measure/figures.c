#include "measure/figures.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "measure/curves.h"
#include "measure/noise/noise.h"
#include "measure/statistics/uncertainty.h"
#include "record/record.h"
#include "record/series.h"

void lds_findings_begin(struct lds_findings *findings, const struct lds_measure_options *options,
                        const struct lds_capture_info *info, const struct lds_scout *scout,
                        const struct lds_driven *driven)
{
    memset(findings, 0, sizeof *findings);
    findings->options = options;
    findings->info = info;
    findings->scout = *scout;
    findings->driven = driven;
    findings->signal =
        (struct lds_signal){.delay_s = NAN, .clock_ppm = NAN, .inverted = -1, .frequency_hz = {NAN, NAN}};
    double volts = lds_bench_volts_per_unit(&options->bench);
    findings->calibrated = !isnan(volts);
    findings->scale = findings->calibrated ? volts : 1.0;
    findings->end_hz = lds_measure_end_hz(info->rate_hz, &options->bench);
}

static bool begins(const char *key, const char *stem)
{
    return strncmp(key, stem, strlen(stem)) == 0;
}

/* Flags from the signal on the figures of one tone and of noise: a tone with silence around it is not steady, and for
 * one that may be hum neither kind is certain. */
static void signal_flags(struct lds_channel *channel, const struct lds_findings *findings)
{
    bool part = !isnan(findings->from_s), hum = findings->has_tone && findings->scout.hum_order > 0;
    for (size_t i = 0; i < channel->figures; i++) {
        struct lds_figure *figure = &channel->figure[i];
        bool tone = begins(figure->key, "tone.") || begins(figure->key, "thd") || begins(figure->key, "sinad") ||
                    begins(figure->key, "snr") || begins(figure->key, "residual.");
        if (tone)
            figure->flags |= (part ? LDS_FLAG_DRIFTING : 0u) | (hum ? LDS_FLAG_NEAR_LINE : 0u);
    }
    struct lds_series *harmonics = lds_channel_own_series(channel, "harmonics");
    for (size_t i = 0; hum && harmonics && i < harmonics->rows; i++)
        harmonics->flag[i] |= LDS_FLAG_NEAR_LINE;
}

bool lds_channel_figures(struct lds_channel *channel, const struct lds_findings *findings)
{
    channel->calibrated = findings->calibrated;
    channel->signal = findings->signal;
    const struct lds_noise_request request = {
        .bench = &findings->options->bench, .band = findings->options->band, .bands = findings->options->bands};
    const bool steady = !findings->unsteady[0];
    struct lds_noise_scale scale;
    lds_noise_scale_init(&scale, &findings->options->bench, &findings->floor);
    bool ok = lds_trust_figures(channel, findings) && lds_level_figures(channel, findings) &&
              lds_tone_figures(channel, findings) && lds_distortion_figures(channel, findings) &&
              lds_residual_figures(channel, findings) &&
              (steady ? lds_noise_measure(channel, &findings->floor, &request)
                      : lds_noise_absent(channel, &request, findings->unsteady)) &&
              lds_impulse_figures(channel, findings) && lds_mains_figures(channel, findings) &&
              (!steady || lds_spurs_record(channel, &findings->spurs, &scale)) &&
              (!findings->options->curves || lds_spectrum_curves(channel, findings));
    if (ok) {
        lds_trust_flags(channel, findings);
        signal_flags(channel, findings);
        lds_figures_bound(channel->figure, channel->figures);
    }
    return ok;
}
