/* The spectrum and the noise density as curves. */
#include <math.h>

#include "measure/analyser.h"
#include "record/series.h"

static const double LOWEST_HZ = 5.0;
enum { STEPS_PER_DECADE = 500 };

struct step {
    double edge_hz;       /* where the step ends */
    double peak, peak_hz; /* highest level of a bin, and where */
    double sum;           /* of densities */
    int bins;
};

static bool flush(struct lds_channel *channel, const struct step *step, double scale)
{
    const double level[] = {step->peak_hz, scale * sqrt(step->peak)};
    const double density[] = {step->peak_hz, scale * sqrt(step->sum / step->bins)};
    return step->bins == 0 || (lds_series_add_row(lds_channel_own_series(channel, "spectrum"), level) &&
                               lds_series_add_row(lds_channel_own_series(channel, "density"), density));
}

static bool figures(const void *state, struct lds_channel *channel, const struct lds_findings *findings)
{
    (void)state;
    if (!findings->options->curves)
        return true;
    if (!lds_channel_add_series(channel, "spectrum") || !lds_channel_add_series(channel, "density"))
        return false;
    struct step step = {.edge_hz = LOWEST_HZ};
    double ratio = pow(10.0, 1.0 / STEPS_PER_DECADE);
    for (int i = 0; i < findings->density.levels; i++) {
        const struct lds_level *level = &findings->density.level[i];
        for (int k = level->first; k < level->last; k++) {
            double f = k * level->bin_hz;
            if (f < LOWEST_HZ || f > findings->end_hz)
                continue;
            if (f >= step.edge_hz) {
                if (!flush(channel, &step, findings->scale))
                    return false;
                step = (struct step){.edge_hz = step.edge_hz};
                while (step.edge_hz <= f)
                    step.edge_hz *= ratio;
            }
            double gain = lds_bench_gain(findings->bench, f);
            double density = level->power[k] / (gain * gain);
            /* The level that a sine in this bin would have: density times the window's noise bandwidth. */
            double power = density * level->enbw_bins * level->bin_hz;
            if (power >= step.peak) {
                step.peak = power;
                step.peak_hz = f;
            }
            step.sum += density;
            step.bins++;
        }
    }
    return flush(channel, &step, findings->scale);
}

const struct lds_analyser lds_analyse_spectrum = {.figures = figures};
