/* The tone: frequency, level, power, drift and wander. */
#include <math.h>

#include "measure/analyser.h"
#include "measure/spurs/known.h"
#include "measure/statistics/uncertainty.h"
#include "record/record.h"

/* At the ends of a tone with silence around it, where its phase may seem to jump. */
static const double PART_EDGE_S = 0.2;

/* Cramér-Rao bounds of a real tone in white noise (Rife and Boorstyn 1974; Kay 1988), with S the one-sided density and
 * V the rms level: var V = S/(2T); var f = 3 S/(2 pi^2 V^2 T^3). */
static double level_u(const struct lds_findings *findings, double density)
{
    return sqrt(0.5 * density / (findings->seconds * findings->track.share));
}

static double frequency_u(const struct lds_findings *findings, double density)
{
    double t = findings->seconds * findings->track.share, v = findings->track.level;
    return sqrt(1.5 * density / (M_PI * M_PI * v * v * t * t * t));
}

/* Hum of unknown phase on a mains order under the tone: half of its power is in the amplitude and half in the phase.
 * Returns the standard uncertainty of both, relative to the tone. */
static double hum_u(const struct lds_findings *findings)
{
    const struct lds_harmonic *h = &findings->harmonic[0];
    return sqrt(0.5 * h->hum_power / creal(h->phasor * conj(h->phasor)));
}

static unsigned hum_flag(const struct lds_findings *findings)
{
    return findings->harmonic[0].near_mains ? LDS_FLAG_NEAR_LINE : 0u;
}

static bool add_level(struct lds_channel *channel, const struct lds_findings *findings, double density)
{
    const struct lds_bench *bench = findings->bench;
    double gain = lds_bench_gain(bench, findings->track.frequency_hz);
    double value = findings->track.level / gain, u = level_u(findings, density) / gain;
    double scale = findings->scale, half = lds_coverage(INFINITY) * u;
    struct lds_figure *figure = lds_channel_add(channel, "tone.level");
    lds_figure_set_level(figure, findings->calibrated, scale * value, scale * (value - half), scale * (value + half),
                         scale * u);
    figure->dof = INFINITY;
    figure->flags |= hum_flag(findings);
    double relative = hypot(findings->calibrated ? lds_bench_level_u(bench) : 0.0, hum_u(findings));
    lds_figure_add_bench(figure, relative * (findings->calibrated ? scale * value : 20.0 / M_LN10));
    if (!findings->has_tone)
        return lds_channel_add_absent(channel, "tone.power", "%s", findings->scout.why);
    if (!findings->calibrated)
        return lds_channel_add_absent(channel, "tone.power", "the bench does not state a full scale in volts");
    if (isnan(bench->load_ohm))
        return lds_channel_add_absent(channel, "tone.power", "the bench does not state the load");
    figure = lds_channel_add(channel, "tone.power");
    double volts = scale * value, power = volts * volts / bench->load_ohm;
    lds_figure_set_normal(figure, power, 2.0 * power * u / value, INFINITY);
    figure->flags |= hum_flag(findings);
    double load = bench->load_percent / 100.0 / sqrt(3.0);
    lds_figure_add_bench(figure, power * hypot(2.0 * relative, load));
    return true;
}

/* From the slope of ln A by regression over the capture: the change over T has the standard uncertainty sqrt(12)
 * u(V)/V. */
static bool add_steadiness(struct lds_channel *channel, const struct lds_findings *findings, double density)
{
    const struct lds_track *track = &findings->track;
    struct lds_figure *figure = lds_channel_add(channel, "tone.drift");
    double u = sqrt(12.0) * 20.0 / M_LN10 * level_u(findings, density) / track->level;
    lds_figure_set_normal(figure, track->drift_db, u, INFINITY);
    lds_figure_add_bench(figure, sqrt(12.0) * 20.0 / M_LN10 * hum_u(findings));
    if (isnan(track->wander_ppm))
        return lds_channel_add_absent(channel, "tone.wander", "the capture holds %.3g s; wander needs two seconds",
                                      findings->seconds);
    figure = lds_channel_add(channel, "tone.wander");
    lds_figure_set_normal(figure, track->wander_ppm, track->wander_u_ppm, INFINITY);
    figure->low = fmax(0.0, figure->low);
    return true;
}

static bool figures(const void *state, struct lds_channel *channel, const struct lds_findings *findings)
{
    (void)state;
    /* With two tones, the stronger one. */
    if (!findings->has_tone && !(findings->track.usable && findings->signal.kind == LDS_SIGNAL_TWO_TONE))
        return lds_channel_all_absent(
            channel, findings->scout.why[0] ? findings->scout.why : "the capture is too short to track a tone",
            "tone.frequency", "tone.level", "tone.power", "tone.drift", "tone.wander");
    const struct lds_track *track = &findings->track;
    const struct lds_level *level = lds_density_level(&findings->density, track->frequency_hz);
    double density = lds_floor_density(&findings->floor, track->frequency_hz, fmax(20.0, 20.0 * level->bin_hz), NULL);
    struct lds_figure *figure = lds_channel_add(channel, "tone.frequency");
    lds_figure_set_normal(figure, track->frequency_hz, frequency_u(findings, density), INFINITY);
    /* the slope of a phase with an error of that size at its ends */
    double hum = sqrt(12.0) * hum_u(findings) / (2.0 * M_PI * findings->seconds);
    double clock = track->frequency_hz * findings->bench->clock_ppm * 1e-6 / sqrt(3.0);
    lds_figure_add_bench(figure, hypot(clock, hum));
    return add_level(channel, findings, density) && add_steadiness(channel, findings, density);
}

static bool make(const struct lds_findings *start, void **state)
{
    const struct lds_plan *plan = start->shape->plan;
    *state = lds_tracker_new(plan->level[plan->audio].rate_hz, start->seconds, start->scout.tone_hz);
    return *state != NULL;
}

static bool finish(void *state, struct lds_findings *findings)
{
    return lds_tracker_finish(state, findings->audio_start_s, &findings->track);
}

/* Where there is no tone, jumps of the phase mean nothing. */
static bool after_jumps(void *state, struct lds_findings *findings)
{
    struct lds_track *track = &findings->track;
    size_t kept = 0;
    for (size_t i = 0; !isnan(findings->from_s) && i < track->jumps; i++)
        if (track->jump[i].at_s > findings->from_s + PART_EDGE_S && track->jump[i].at_s < findings->to_s - PART_EDGE_S)
            track->jump[kept++] = track->jump[i];
    track->jumps = isnan(findings->from_s) ? track->jumps : kept;
    return !findings->has_tone || lds_tracker_wander(state, findings->audio_start_s, &findings->track);
}

const struct lds_analyser lds_analyse_tone = {.tone = LDS_WITH_TONE,
                                              .make = make,
                                              .audio = lds_tracker_push,
                                              .finish = finish,
                                              .after_jumps = after_jumps,
                                              .figures = figures,
                                              .free = lds_tracker_free};
