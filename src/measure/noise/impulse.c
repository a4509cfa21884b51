/* Properties of noise besides its level: impulses, the shape of its distribution, steps between two levels. */
#include <math.h>

#include "measure/findings.h"
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
    set_band(figure, bursts);
    figure = lds_channel_add(channel, "noise.kurtosis");
    if (!figure)
        return false;
    lds_figure_set_normal(figure, bursts->kurtosis, sqrt(24.0 / bursts->independent), INFINITY);
    set_band(figure, bursts);
    return true;
}

static bool add_popcorn(struct lds_channel *channel, const struct lds_findings *findings)
{
    const struct lds_popcorn_result *popcorn = &findings->popcorn;
    const char *key = "noise.popcorn";
    if (findings->track.usable || findings->driven->undriven)
        return lds_channel_add_absent(channel, key, "steps are looked for without a tone: record the idle output");
    if (!popcorn->usable)
        return lds_channel_add_absent(channel, key, "the capture holds %.3g s; steps need two seconds",
                                      findings->seconds);
    struct lds_figure *figure = lds_channel_add(channel, key);
    if (!figure)
        return false;
    double scale = findings->scale * (findings->calibrated ? 1.0 : M_SQRT1_2);
    double relative = findings->calibrated ? lds_bench_level_u(&findings->options->bench) : 0.0;
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

bool lds_impulse_figures(struct lds_channel *channel, const struct lds_findings *findings)
{
    const char *why = findings->unsteady[0] ? findings->unsteady : findings->scout.why;
    if (findings->unsteady[0] || findings->signal.kind == LDS_SIGNAL_TWO_TONE)
        return lds_channel_add_absent(channel, "noise.bursts", "%s", why) &&
               lds_channel_add_absent(channel, "noise.kurtosis", "%s", why) &&
               lds_channel_add_absent(channel, "noise.popcorn", "%s", why);
    return add_bursts(channel, &findings->bursts) && add_popcorn(channel, findings);
}
