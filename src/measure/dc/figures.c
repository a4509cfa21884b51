#include "measure/dc/figures.h"

#include <math.h>

#include "constants.h"
#include "measure/dc/decay.h"
#include "measure/dc/settle.h"
#include "measure/dc/wander.h"
#include "measure/level/dc_figure.h"
#include "measure/level/offset.h"
#include "measure/statistics/uncertainty.h"
#include "record/series.h"

static const double THUMP_S = 1.0;      /* after switching on; the exponentials are fitted from there, */
static const double SOONER_S = 0.2;     /* or from here where nothing is left by then */
static const double LAST = 0.1;         /* share of the capture whose mean is the final value, */
static const double LAST_LEAST_S = 1.0; /* but at least so long */
static const double CORRELATED = 5.0;   /* samples that the low-pass correlates */
static const double VAGUE = 0.6;        /* standard uncertainty of ln tau above which a time constant is not known */
static const double NOISE_RANGE = 6.0;  /* rms: of noise up to 1 Hz in some minutes (normal distribution) */
enum { ROWS_MOST = 2000 };

static const char not_switched[] = "the amplifier was not switched on in this capture (if it was, state that)";

struct work {
    struct lds_channel *channel;
    const struct lds_findings *findings;
    const struct lds_dc_found *found;
    const struct lds_dc_course *course;
    struct lds_dc_decay decay;
    struct lds_dc_settle settle;
};

#define absent(w, ...) lds_channel_add_absent((w)->channel, __VA_ARGS__)

/* ---- the final value ---- */

static bool add_bias(const struct work *w, const struct lds_figure *final)
{
    double ohm = w->findings->options->bias_ohm;
    if (isnan(ohm))
        return absent(w, "dc.bias_current", "no resistance was stated that it flows through");
    if (!w->findings->calibrated)
        return absent(w, "dc.bias_current", "the bench does not say how many volts full scale is");
    const struct lds_figure of = *final; /* a copy, since adding a figure may move the list */
    struct lds_figure *figure = lds_channel_add(w->channel, "dc.bias_current");
    lds_figure_set(figure, of.value / ohm, of.low / ohm, of.high / ohm, of.u_a / ohm, of.dof);
    figure->u_b = of.u_b / ohm;
    return true;
}

/* Mean of the last part of the capture: the mean of the fit up to the very end, where the low-passed course does not
 * reach, plus that of the residuals. The residuals are averaged over eighths, each under a window that suppresses the
 * remains of a low tone; the uncertainty follows from the scatter of the eighths. false: too short. */
static bool end_mean(const struct work *w, double last_s, double *mean, double *u)
{
    const struct lds_dc_course *course = w->course;
    double end_s = w->findings->seconds;
    bool fitted = !isnan(w->decay.a);
    size_t first = lds_dc_course_index(course, end_s - last_s);
    struct lds_offset offset;
    lds_offset_init(&offset, 1.0 / course->step_s, (double)(course->n - first) * course->step_s);
    for (size_t i = first; i < course->n; i++) {
        double left = course->x[i] - (fitted ? lds_dc_decay_at(&w->decay, course, i) : 0.0);
        lds_offset_push(&offset, &left, 1);
    }
    if (!lds_offset_finish(&offset, mean, u))
        return false;
    *mean += fitted ? lds_dc_decay_mean(&w->decay, course, end_s - last_s, end_s) : 0.0;
    return true;
}

static bool add_final(const struct work *w)
{
    double last_s = fmax(LAST_LEAST_S, LAST * w->findings->seconds), mean, u;
    if (w->findings->seconds < LAST_LEAST_S || !end_mean(w, last_s, &mean, &u))
        return lds_channel_all_absent(w->channel, "the capture is shorter than 1 s", "dc.final", "dc.bias_current");
    struct lds_figure *figure = lds_channel_add(w->channel, "dc.final");
    lds_dc_figure_set(figure, w->findings, mean, u, LDS_BLOCKS - 1);
    return add_bias(w, figure);
}

/* ---- switching on ---- */

static bool add_thump(const struct work *w)
{
    double value = w->found->thump, u = w->found->u_thump, scale = w->findings->scale, half = LDS_COVERAGE * u;
    if (isnan(w->found->on_s))
        return absent(w, "dc.thump", "%s", not_switched);
    if (isnan(value))
        return absent(w, "dc.thump", "the capture ends less than 1 s after the amplifier was switched on");
    struct lds_figure *figure = lds_channel_add(w->channel, "dc.thump");
    if (!w->findings->calibrated)
        scale /= M_SQRT2; /* dBFS of a peak: that of the sine with this peak, as in level.peak */
    lds_figure_set_level(figure, w->findings->calibrated, scale * value, scale * (value - half), scale * (value + half),
                         scale * u);
    figure->dof = INFINITY;
    lds_figure_add_bench(figure, lds_dc_bench_u(w->findings, value));
    return true;
}

static bool add_settle(const struct work *w)
{
    const struct lds_dc_settle *settle = &w->settle;
    double band_v = w->findings->options->settle_band_v;
    if (isnan(w->found->on_s))
        return absent(w, "dc.settle", "%s", not_switched);
    if (!w->findings->calibrated)
        return absent(w, "dc.settle", "the bench does not say how many volts full scale is");
    if (settle->how == LDS_DC_NEVER_LEAVES)
        return absent(w, "dc.settle", "the output never leaves +-%g mV after it was switched on", 1e3 * band_v);
    if (settle->how == LDS_DC_NEVER_SETTLES)
        return absent(w, "dc.settle", "the output does not stay within +-%g mV before the capture ends", 1e3 * band_v);
    struct lds_figure *figure = lds_channel_add(w->channel, "dc.settle");
    lds_figure_set_normal(figure, settle->at_s - w->found->on_s, hypot(settle->u_s, w->found->u_on_s), INFINITY);
    double slope_v = w->findings->scale * fabs(settle->slope);
    lds_figure_add_bench(figure, lds_dc_bench_u(w->findings, band_v / w->findings->scale) / slope_v);
    return true;
}

static bool is_known(const struct lds_dc_decay *decay, int k)
{
    return k < decay->terms && decay->u_log[k] < VAGUE;
}

static void set_tau(const struct work *w, const char *key, int k)
{
    const struct lds_dc_decay *decay = &w->decay;
    double tau = decay->tau_s[k], u = decay->u_log[k], factor = exp(lds_coverage(decay->drift.dof) * u);
    lds_figure_set(lds_channel_add(w->channel, key), tau, tau / factor, tau * factor, u * tau, decay->drift.dof);
}

static bool add_tau(const struct work *w)
{
    static const char *const keys[LDS_DC_DECAYS] = {"dc.tau", "dc.tau.2"};
    const struct lds_dc_decay *decay = &w->decay;
    if (isnan(w->found->on_s))
        return lds_channel_all_absent(w->channel, not_switched, keys[0], keys[1]);
    if (isnan(decay->drift.slow))
        return lds_channel_all_absent(w->channel, "too little of the capture is left after the thump", keys[0],
                                      keys[1]);
    if (decay->terms == 0)
        return lds_channel_all_absent(w->channel, "no exponential stands out of the noise after the thump", keys[0],
                                      keys[1]);
    bool memory = true;
    for (int k = 0; memory && k < LDS_DC_DECAYS; k++) {
        if (is_known(decay, k))
            set_tau(w, keys[k], k);
        else if (k < decay->terms)
            memory = absent(w, keys[k], "it is too slow for this capture, or too small: record longer");
        else
            memory = absent(w, keys[k], "one exponential fits as well as two");
    }
    return memory;
}

/* ---- the settled output ---- */

/* The sample from which the output counts as settled: after the thump, and once it stays within the band; n: never. */
static size_t settled_from(const struct work *w)
{
    if (isnan(w->found->on_s))
        return 0;
    if (w->findings->calibrated && w->settle.how == LDS_DC_NEVER_SETTLES)
        return w->course->n;
    size_t after = lds_dc_course_index(w->course, w->found->on_s + THUMP_S);
    size_t settled = isnan(w->settle.at_s) ? 0 : lds_dc_course_index(w->course, w->settle.at_s);
    return after > settled ? after : settled;
}

/* Standard uncertainty of the fit where the settled output begins. */
static double fit_u(const struct work *w, size_t first)
{
    double square = 0.0, t = (double)(first - w->decay.first) * w->course->step_s;
    for (int k = 0; k < w->decay.terms; k++) {
        double turns = t / w->decay.tau_s[k], part = w->decay.b[k] * turns * exp(-turns) * w->decay.u_log[k];
        square += isfinite(part) ? part * part : 0.0;
    }
    return sqrt(square);
}

static bool add_wander(const struct work *w)
{
    struct lds_dc_wander wander;
    double scale = w->findings->scale;
    size_t first = settled_from(w);
    if (first >= w->course->n)
        return absent(w, "dc.wander", "the output does not settle in this capture");
    first = first > w->decay.first ? first : w->decay.first;
    if (!lds_dc_wander_find(w->course, first, &w->decay, &wander))
        return false;
    if (isnan(wander.range))
        return absent(w, "dc.wander", "less than 100 s of a settled output: record longer");
    if (!w->findings->calibrated)
        scale /= 2.0 * M_SQRT2; /* dBFS of the sine with this range */
    /* Noise moves both extremes, and has a range of its own. Of the slower movement, up to half may be missing, or
     * counted too much. */
    double u = hypot(hypot(M_SQRT2 * wander.noise, 0.25 * wander.below), fit_u(w, first)), half = LDS_COVERAGE * u;
    struct lds_figure *figure = lds_channel_add(w->channel, "dc.wander");
    lds_figure_set_level(figure, w->findings->calibrated, scale * wander.range,
                         scale * fmax(0.0, wander.range - hypot(half, NOISE_RANGE * wander.noise)),
                         scale * (wander.range + half), scale * u);
    figure->dof = INFINITY;
    if (w->findings->calibrated)
        lds_figure_add_bench(figure, lds_bench_level_u(w->findings->bench) * scale * wander.range);
    return true;
}

/* ---- the series ---- */

static bool add_series(const struct work *w)
{
    const struct lds_dc_course *course = w->course;
    struct lds_series *series = lds_channel_add_series(w->channel, "dc");
    size_t together = (course->n + ROWS_MOST - 1) / ROWS_MOST;
    double scale = w->findings->scale, u = 0.0;
    if (!series)
        return false;
    if (!isnan(w->decay.drift.white))
        u = scale * lds_dc_drift_mean_u(&w->decay.drift, fmax((double)together, CORRELATED), course->n);
    for (size_t i = 0; i < course->n; i += together) {
        size_t count = together < course->n - i ? together : course->n - i;
        double sum = 0.0, middle_s = lds_dc_course_time(course, i) + 0.5 * (double)(count - 1) * course->step_s;
        for (size_t k = 0; k < count; k++)
            sum += course->x[i + k] / (double)count;
        const double row[] = {middle_s, scale * sum};
        if (!lds_series_add_row(series, row))
            return false;
        double half = LDS_COVERAGE * hypot(u, lds_dc_bench_u(w->findings, sum));
        lds_series_set_limits(series, series->rows - 1, LDS_CURVE_Y, row[1] - half, row[1] + half);
    }
    return true;
}

/* ---- all ---- */

#define ALL "dc.thump", "dc.settle", "dc.final", "dc.wander", "dc.tau", "dc.tau.2", "dc.bias_current"

/* Fits the exponentials after the thump. A single fast exponential may have decayed by then, so if none is found, the
 * fit begins sooner. */
static bool fit(struct work *w)
{
    double on_s = isnan(w->found->on_s) ? -THUMP_S : w->found->on_s;
    if (!lds_dc_decay_fit(w->course, lds_dc_course_index(w->course, on_s + THUMP_S), LDS_DC_DECAYS, &w->decay))
        return false;
    if (isnan(w->found->on_s) || w->decay.terms > 0)
        return true;
    struct lds_dc_decay sooner;
    if (!lds_dc_decay_fit(w->course, lds_dc_course_index(w->course, on_s + SOONER_S), 1, &sooner))
        return false;
    if (sooner.terms > 0 && is_known(&sooner, 0))
        w->decay = sooner;
    return true;
}

static const char *unfit(const struct lds_findings *findings)
{
    enum lds_signal_kind kind = findings->signal.kind;
    bool fits = lds_signal_has(kind, LDS_PLAYS_STILL) || lds_signal_has(kind, LDS_PLAYS_DC);
    return fits ? NULL : "what was played moves the output too: this needs an idle output, a steady tone, or silence";
}

bool lds_dc_figures(struct lds_channel *channel, const struct lds_findings *findings)
{
    struct work w = {.channel = channel, .findings = findings, .found = &findings->dc, .course = &findings->dc.course};
    const char *why = lds_dc_absent(findings);
    why = why ? why : unfit(findings);
    if (!why && w.course->n < 2)
        why = "the capture is shorter than 1 s";
    if (why)
        return lds_channel_all_absent(channel, why, ALL);
    if (!fit(&w))
        return false;
    if (!isnan(w.found->on_s))
        lds_dc_settle_find(w.course, w.found->on_s, findings->options->settle_band_v / findings->scale, &w.decay.drift,
                           &w.settle);
    else
        w.settle = (struct lds_dc_settle){.at_s = NAN};
    return add_thump(&w) && add_settle(&w) && add_final(&w) && add_wander(&w) && add_tau(&w) && add_series(&w);
}
