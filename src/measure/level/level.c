/* Level: rms, peak, crest, headroom, DC. */
#include <math.h>
#include <stdlib.h>

#include "measure/analyser.h"
#include "measure/level/dc_figure.h"
#include "measure/spurs/known.h"
#include "measure/statistics/uncertainty.h"
#include "record/record.h"

/* Common practice, no source: share of the power that theory leaves unexplained, and its standard uncertainty, above
 * which the scatter of eight blocks is used instead. */
static const double UNEXPLAINED = 0.01;
static const double POWER_U = 0.2;

/* The variance of the capture's mean square: that of its noise, and for each line 2 V^2 n (cross terms with the noise)
 * and that of the incomplete period at the capture's ends: V^2 [sin(2 w t + p)]/(2 w T), whose variance over all phases
 * p is (V^2/(2 w T))^2. */
static double power_variance(const struct lds_findings *findings)
{
    struct lds_band_power noise;
    lds_floor_band(&findings->floor, 1.0, findings->density.end_hz, 0, NULL, NULL, &noise);
    double variance = isfinite(noise.variance) ? noise.variance : 0.0;
    for (size_t i = 0; i < findings->lines.count; i++) {
        const struct lds_known_line *line = &findings->lines.line[i];
        if (!(line->power > 0.0))
            continue;
        double part = line->power / (4.0 * M_PI * line->frequency_hz * findings->seconds);
        variance += 2.0 * line->power * lds_known_noise_power(findings, line->frequency_hz) + part * part;
    }
    return variance;
}

/* The mean square below end_hz that lines and noise account for; from the end of the spectrum up to half the rate the
 * last density is continued. */
static double explained(const struct lds_findings *findings, double end_hz)
{
    struct lds_band_power noise;
    double known_hz = fmin(end_hz, findings->density.end_hz);
    lds_floor_band(&findings->floor, 1.0, known_hz, 0, NULL, NULL, &noise);
    double power = isfinite(noise.power) ? noise.power : 0.0;
    if (end_hz > known_hz)
        power += lds_floor_density(&findings->floor, known_hz, 0.1 * known_hz, NULL) * (end_hz - known_hz);
    for (size_t i = 0; i < findings->lines.count; i++)
        if (findings->lines.line[i].power > 0.0 && findings->lines.line[i].frequency_hz < end_hz)
            power += findings->lines.line[i].power;
    return power;
}

/* The standard uncertainty of the rms, relative to it, and its degrees of freedom. A signal whose period is long
 * compared with the capture cannot be separated from the mean, or looks like noise in a few bins; then the scatter of
 * the slow stream's power over eight blocks is used. */
static double rms_u(const struct lds_findings *findings, double *dof)
{
    double square = findings->health.rms * findings->health.rms, slow, u_slow;
    double u = sqrt(power_variance(findings)) / square;
    *dof = INFINITY;
    if (!lds_offset_power(&findings->offset, &slow, &u_slow))
        return 0.5 * u;
    double all_left = square - explained(findings, 0.5 * findings->info->rate_hz);
    double slow_left = slow - explained(findings, 0.5 * findings->offset.rate_hz);
    if (u > POWER_U || fmin(all_left, slow_left) > (UNEXPLAINED + 3.0 * u) * square) {
        *dof = LDS_BLOCKS - 1;
        u = u_slow / square;
    }
    return 0.5 * u;
}

static void set_level(struct lds_figure *figure, const struct lds_findings *findings, double value, double low,
                      double high, double u_a, double dof)
{
    double scale = findings->scale;
    lds_figure_set_level(figure, findings->calibrated, scale * value, scale * low, scale * high, scale * u_a);
    figure->dof = dof;
    double relative = findings->calibrated ? lds_bench_level_u(findings->bench) : 0.0;
    lds_figure_add_bench(figure, relative * scale * fabs(value));
}

/* A large uncertainty is taken as a ratio, which keeps the limits above zero; for a small one it makes no
 * difference. */
static bool add_rms(struct lds_channel *channel, const struct lds_findings *findings, double u, double dof)
{
    struct lds_figure *figure = lds_channel_add(channel, "level.rms");
    double rms = findings->health.rms, half = lds_coverage(dof) * u;
    bool ratio = isfinite(dof);
    set_level(figure, findings, rms, ratio ? rms * exp(-half) : rms - half * rms,
              ratio ? rms * exp(half) : rms + half * rms, u * rms, dof);
    return true;
}

static bool add_rms_and_peak(struct lds_channel *channel, const struct lds_findings *findings)
{
    const struct lds_health_result *health = &findings->health;
    if (!(health->rms > 0.0))
        return lds_channel_all_absent(channel, "the capture is silent", "level.rms", "level.peak", "level.crest");
    double dof, u = rms_u(findings, &dof);
    if (!add_rms(channel, findings, u, dof))
        return false;
    struct lds_figure *figure = lds_channel_add(channel, "level.peak");
    double peak = fmax(fabs(health->min), fabs(health->max));
    /* A peak in dBFS: a sample at full scale is 0 dBFS, so the figure is the rms of the sine with that peak. */
    peak = findings->calibrated ? peak : peak / M_SQRT2;
    set_level(figure, findings, peak, peak, peak, 0.0, INFINITY);
    figure = lds_channel_add(channel, "level.crest");
    double peak_ac = fmax(health->max - health->mean, health->mean - health->min);
    lds_figure_set_normal(figure, 20.0 * log10(peak_ac / health->rms), 20.0 / M_LN10 * u, dof);
    return true;
}

static bool add_headroom(struct lds_channel *channel, const struct lds_findings *findings)
{
    double peak = fmax(fabs(findings->health.min), fabs(findings->health.max));
    if (findings->info->in_volts)
        return lds_channel_add_absent(channel, "level.headroom", "a capture in volts does not state its full scale");
    if (peak <= 0.0)
        return lds_channel_add_absent(channel, "level.headroom", "the capture is silent");
    lds_figure_set_normal(lds_channel_add(channel, "level.headroom"), -20.0 * log10(peak), 0.0, INFINITY);
    return true;
}

static bool add_dc(struct lds_channel *channel, const struct lds_findings *findings)
{
    const char *absent = lds_dc_absent(findings);
    if (!absent && findings->signal.kind == LDS_SIGNAL_POWER_ON)
        absent = "the amplifier is being switched on: final DC is what it settles at";
    if (absent)
        return lds_channel_add_absent(channel, "level.dc", "%s", absent);
    double mean, u;
    if (!lds_offset_finish(&findings->offset, &mean, &u))
        return lds_channel_add_absent(channel, "level.dc", "the capture is too short for eight blocks");
    lds_dc_figure_set(lds_channel_add(channel, "level.dc"), findings, mean, u, LDS_BLOCKS - 1);
    return true;
}

static bool make(const struct lds_findings *start, void **state)
{
    struct lds_offset *offset = malloc(sizeof *offset);
    if (offset)
        lds_offset_init(offset, start->shape->plan->slow_rate_hz, start->seconds);
    *state = offset;
    return offset != NULL;
}

static bool finish(void *state, struct lds_findings *findings)
{
    findings->offset = *(struct lds_offset *)state;
    return true;
}

static bool figures(const void *state, struct lds_channel *channel, const struct lds_findings *findings)
{
    (void)state;
    return add_rms_and_peak(channel, findings) && add_headroom(channel, findings) && add_dc(channel, findings);
}

const struct lds_analyser lds_analyse_level = {
    .make = make, .slow = lds_offset_push, .finish = finish, .figures = figures, .free = free};
