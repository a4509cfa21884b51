#include "measure/figures.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "measure/curves.h"
#include "measure/uncertainty.h"
#include "measure/noise.h"
#include "measure/record.h"

void lds_findings_begin(struct lds_findings *findings, const struct lds_measure_options *options,
                        const struct lds_capture_info *info, const struct lds_scout *scout)
{
    memset(findings, 0, sizeof *findings);
    findings->options = options;
    findings->info = info;
    findings->scout = *scout;
    double volts = lds_bench_volts_per_unit(&options->bench);
    findings->calibrated = !isnan(volts);
    findings->scale = findings->calibrated ? volts : 1.0;
    findings->end_hz = fmin(0.45 * info->rate_hz, options->bench.usable_to_hz);
}

/* noise.bursts: a Poisson count (limits from chi-square, Garwood 1936); noise.kurtosis: sqrt(24/n). */
bool lds_burst_figures(struct lds_channel *channel, const struct lds_findings *findings)
{
    const struct lds_bursts_result *bursts = &findings->bursts;
    if (!bursts->usable) {
        const char *why = "the band from 2 to 20 kHz holds no noise to look at";
        return lds_channel_add_absent(channel, "noise.bursts", "%s", why) &&
               lds_channel_add_absent(channel, "noise.kurtosis", "%s", why);
    }
    struct lds_figure *figure = lds_channel_add(channel, "noise.bursts");
    if (!figure)
        return false;
    double minutes = bursts->seconds / 60.0, count = (double)bursts->impulses;
    figure->value = count / minutes;
    lds_poisson_limits(count, &figure->low, &figure->high);
    figure->low /= minutes;
    figure->high /= minutes;
    figure->u_a = sqrt(fmax(1.0, count)) / minutes;
    figure->u_b = 0.0;
    figure->dof = INFINITY;
    figure->band_hz[0] = bursts->band_hz[0];
    figure->band_hz[1] = bursts->band_hz[1];
    figure = lds_channel_add(channel, "noise.kurtosis");
    if (!figure)
        return false;
    lds_figure_set_normal(figure, bursts->kurtosis, sqrt(24.0 / bursts->independent), INFINITY);
    figure->band_hz[0] = bursts->band_hz[0];
    figure->band_hz[1] = bursts->band_hz[1];
    return true;
}

bool lds_channel_figures(struct lds_channel *channel, const struct lds_findings *findings)
{
    channel->calibrated = findings->calibrated;
    const struct lds_noise_request request = {
        .bench = &findings->options->bench, .band = findings->options->band, .bands = findings->options->bands};
    struct lds_noise_scale scale;
    lds_noise_scale_init(&scale, &findings->options->bench, &findings->floor);
    bool ok = lds_trust_figures(channel, findings) && lds_level_figures(channel, findings) &&
              lds_tone_figures(channel, findings) && lds_distortion_figures(channel, findings) &&
              lds_residual_figures(channel, findings) && lds_noise_measure(channel, &findings->floor, &request) &&
              lds_burst_figures(channel, findings) && lds_mains_figures(channel, findings) &&
              lds_spurs_record(channel, &findings->spurs, &scale) && (!findings->options->curves || lds_spectrum_curves(channel, findings));
    if (ok)
        lds_trust_flags(channel, findings);
    return ok;
}
