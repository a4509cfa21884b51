/* The residual: the sum of the tracked harmonics over one period of the tone. */
#include <math.h>
#include <stdlib.h>

#include "measure/analyser.h"
#include "measure/statistics/uncertainty.h"
#include "record/record.h"
#include "record/series.h"

enum { POINTS = 1024 };
static const double CROSSING_DEG = 15.0;

struct residual {
    double y[POINTS]; /* linear unit, peak scale; point i at 360 i/POINTS degrees of the fundamental's cosine */
    double noise;  /* mean square of its noise, including that of orders not detected, which may hide as much signal */
    int harmonics; /* detected */
    int orders;    /* looked at */
};

static void build(const struct lds_findings *findings, struct residual *r)
{
    *r = (struct residual){0};
    for (size_t i = 1; i < findings->harmonics; i++) {
        const struct lds_harmonic *h = &findings->harmonic[i];
        r->orders++;
        r->noise += findings->scale * findings->scale * h->noise_power;
        if (!h->detected)
            continue;
        r->harmonics++;
        double peak = M_SQRT2 * findings->scale * cabs(h->phasor), phase = carg(h->phasor);
        for (int k = 0; k < POINTS; k++)
            r->y[k] += peak * cos(2.0 * M_PI * (double)((long)h->order * k % POINTS) / POINTS + phase);
    }
}

static bool near_crossing(int i)
{
    double degrees = fmod(360.0 * i / POINTS, 180.0);
    return fabs(degrees - 90.0) <= CROSSING_DEG;
}

static bool absent(struct lds_channel *channel, const char *why)
{
    return lds_channel_all_absent(channel, why, "residual.peak", "residual.crest", "residual.crossing");
}

static bool keep_curve(struct lds_channel *channel, const struct residual *r)
{
    struct lds_series *curve = lds_channel_add_series(channel, "residual");
    bool done = curve != NULL;
    for (int i = 0; done && i < POINTS; i++)
        done = lds_series_add_row(curve, (const double[]){360.0 * i / POINTS, r->y[i]});
    return done;
}

/* Noise of mean square n changes the rms over m independent values by about sqrt(n/2m) and a peak by sqrt(n); the
 * crossing regions cover a sixth of the period. Each order gives 2 independent values. */
static bool add(struct lds_channel *channel, const struct lds_findings *findings, const struct residual *r)
{
    double peak = 0.0, square = 0.0, crossing = 0.0;
    int near = 0;
    for (int i = 0; i < POINTS; i++) {
        peak = fmax(peak, fabs(r->y[i]));
        square += r->y[i] * r->y[i] / POINTS;
        if (near_crossing(i)) {
            crossing += r->y[i] * r->y[i];
            near++;
        }
    }
    double rms = sqrt(square), rms_crossing = sqrt(crossing / near);
    double u = sqrt(r->noise), u_rms = u / sqrt(2.0 * r->orders), db = 20.0 / M_LN10;
    struct lds_figure *figure = lds_channel_add(channel, "residual.peak");
    double half = lds_coverage(INFINITY) * u;
    double scale = findings->calibrated ? 1.0 : M_SQRT1_2; /* a peak in dBFS is that of the sine with this peak */
    lds_figure_set_level(figure, findings->calibrated, scale * peak, scale * fmax(0.0, peak - half),
                         scale * (peak + half), scale * u);
    figure->dof = INFINITY;
    double relative = findings->calibrated ? lds_bench_level_u(findings->bench) : 0.0;
    lds_figure_add_bench(figure, relative * peak);
    figure = lds_channel_add(channel, "residual.crest");
    lds_figure_set_normal(figure, 20.0 * log10(peak / rms), db * hypot(u / peak, u_rms / rms), INFINITY);
    figure = lds_channel_add(channel, "residual.crossing");
    lds_figure_set_normal(figure, 20.0 * log10(rms_crossing / rms), db * hypot(u / rms_crossing, u_rms / rms),
                          INFINITY);
    return true;
}

static bool figures(const void *state, struct lds_channel *channel, const struct lds_findings *findings)
{
    (void)state;
    if (!findings->has_tone)
        return absent(channel, findings->scout.why[0] ? findings->scout.why : "there is no tone");
    struct residual *r = malloc(sizeof *r);
    if (!r)
        return false;
    build(findings, r);
    bool ok;
    if (r->harmonics == 0)
        ok = absent(channel, "no harmonic stands above the noise");
    else
        ok = add(channel, findings, r) && (!findings->options->curves || keep_curve(channel, r));
    free(r);
    return ok;
}

const struct lds_analyser lds_analyse_residual = {.figures = figures};
