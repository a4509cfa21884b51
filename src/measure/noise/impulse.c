/* Properties of noise besides its level: impulses, the shape of its distribution, steps between two levels. */
#include <math.h>

#include "measure/analyser.h"
#include "measure/noise/bursts.h"
#include "measure/noise/popcorn.h"
#include "measure/statistics/uncertainty.h"
#include "record/record.h"

static void set_band(struct lds_figure *figure, const struct lds_bursts_result *bursts)
{
    figure->band_hz[0] = bursts->band_hz[0];
    figure->band_hz[1] = bursts->band_hz[1];
}

/* A Poisson count, and a kurtosis whose variance is 24/n (Fisher 1930). */
static bool add_bursts(struct lds_channel *channel, const struct lds_bursts_result *bursts)
{
    if (!bursts->usable)
        return lds_channel_all_absent(channel, "the band from 2 to 20 kHz holds no noise to look at", "noise.bursts",
                                      "noise.kurtosis");
    struct lds_figure *figure = lds_channel_add(channel, "noise.bursts");
    double minutes = bursts->seconds / 60.0, count = (double)bursts->impulses;
    double low, high;
    lds_poisson_limits(count, &low, &high);
    lds_figure_set(figure, count / minutes, low / minutes, high / minutes, sqrt(fmax(1.0, count)) / minutes, INFINITY);
    set_band(figure, bursts);
    figure = lds_channel_add(channel, "noise.kurtosis");
    lds_figure_set_normal(figure, bursts->kurtosis, sqrt(24.0 / bursts->independent), INFINITY);
    set_band(figure, bursts);
    return true;
}

static bool add_popcorn(struct lds_channel *channel, const struct lds_findings *findings,
                        const struct lds_popcorn_result *popcorn)
{
    const char *key = "noise.popcorn";
    if (findings->track.usable || findings->driven->undriven)
        return lds_channel_add_absent(channel, key, "steps are looked for without a tone: record the idle output");
    if (!popcorn->usable)
        return lds_channel_add_absent(channel, key, "the capture holds %.3g s; steps need two seconds",
                                      findings->seconds);
    struct lds_figure *figure = lds_channel_add(channel, key);
    double scale = findings->scale * (findings->calibrated ? 1.0 : M_SQRT1_2);
    double relative = findings->calibrated ? lds_bench_level_u(findings->bench) : 0.0;
    double half = lds_coverage(INFINITY) * popcorn->u_step;
    if (popcorn->found) {
        lds_figure_set_level(figure, findings->calibrated, scale * popcorn->step, scale * (popcorn->step - half),
                             scale * (popcorn->step + half), scale * popcorn->u_step);
        lds_figure_add_bench(figure, relative * scale * popcorn->step);
    } else {
        lds_figure_set_level(figure, findings->calibrated, NAN, NAN, scale * popcorn->least, NAN);
        lds_figure_add_bench(figure, relative * scale * popcorn->least);
        figure->flags |= LDS_FLAG_BELOW_FLOOR;
    }
    figure->dof = INFINITY;
    return true;
}

/* Why there is no noise of one idle output, or with one tone, to look at; NULL: there is. */
static const char *why_not(const struct lds_findings *findings)
{
    if (findings->unsteady[0])
        return findings->unsteady;
    return findings->signal.kind == LDS_SIGNAL_TWO_TONE ? findings->scout.why : NULL;
}

static bool make_bursts(const struct lds_findings *start, void **state)
{
    *state = lds_bursts_new(start->shape->plan, lds_findings_line_hz(start));
    return *state != NULL;
}

static bool bursts_figures(const void *state, struct lds_channel *channel, const struct lds_findings *findings)
{
    struct lds_bursts_result bursts;
    const char *why = why_not(findings);
    if (why)
        return lds_channel_all_absent(channel, why, "noise.bursts", "noise.kurtosis");
    lds_bursts_finish(state, &bursts);
    return add_bursts(channel, &bursts);
}

static bool make_popcorn(const struct lds_findings *start, void **state)
{
    *state = lds_popcorn_new(start->shape->plan->slow_rate_hz);
    return *state != NULL;
}

static bool popcorn_figures(const void *state, struct lds_channel *channel, const struct lds_findings *findings)
{
    struct lds_popcorn_result popcorn = {0};
    const char *why = why_not(findings);
    if (why)
        return lds_channel_add_absent(channel, "noise.popcorn", "%s", why);
    return (!state || lds_popcorn_finish(state, &popcorn)) && add_popcorn(channel, findings, &popcorn);
}

const struct lds_analyser lds_analyse_bursts = {
    .make = make_bursts, .frame = lds_bursts_frame, .figures = bursts_figures, .free = lds_bursts_free};
const struct lds_analyser lds_analyse_popcorn = {.tone = LDS_WITHOUT_TONE,
                                                 .make = make_popcorn,
                                                 .slow = lds_popcorn_push,
                                                 .figures = popcorn_figures,
                                                 .free = lds_popcorn_free};
