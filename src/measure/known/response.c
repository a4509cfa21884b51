#include "measure/known/response.h"

#include <gsl/gsl_cdf.h>
#include <gsl/gsl_fit.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "measure/statistics/uncertainty.h"
#include "record/series.h"

static const double REFERENCE_HZ = 1000.0;
static const double HALF_POWER_DB = 3.010299956639812;
/* Uncertainty of the method, from simulations without noise: OWN_U_DB everywhere; OWN_LOW_DB in addition at low
 * frequencies (for a sweep that begins at 5 Hz). */
static const double OWN_U_DB = 2e-4, OWN_LOW_DB = 2.5e-3;
/* Times that uncertainty: an error that all points share has more effect beyond the end. */
static const double BEYOND = 2.0;

struct work {
    const struct lds_response *of;
    struct lds_transfer transfer;
    struct lds_transfer_point reference;
};

static double own_u_db(const struct lds_response *of, double hz)
{
    if (!of->low)
        return OWN_U_DB + OWN_LOW_DB * pow(5.0 / hz, 4.0); /* few bins: a parabola follows the gain */
    if (hz < of->low_to_hz)
        return OWN_U_DB + OWN_LOW_DB * fmin(1.0, pow(5.0 / of->low_hz, 2.0)) * pow(of->shorter, -1.8);
    return OWN_U_DB + of->near_db * exp2(-2.0 * (hz / of->low_to_hz - 1.0));
}

struct decibels {
    double value, u, dof;
    unsigned flags;
};

static double chain_gain(const struct lds_response *of, double hz)
{
    const double out = of->bench ? lds_bench_gain(of->bench, hz) : 1.0;
    return out / (of->in_bench ? lds_bench_gain(of->in_bench, hz) : 1.0);
}

/* Magnitude at a point over that at 1 kHz. The uncertainties of both count, except at 1 kHz itself, where the ratio is
 * 1. */
static struct decibels gain_at(const struct work *w, const struct lds_transfer_point *point)
{
    const double magnitude = cabs(point->gain) / chain_gain(w->of, point->hz);
    const double reference = cabs(w->reference.gain) / chain_gain(w->of, REFERENCE_HZ);
    const double u = point->u / cabs(point->gain), u_reference = w->reference.u / cabs(w->reference.gain);
    struct decibels db = {20.0 * log10(magnitude / reference), 0.0, point->dof,
                          point->near_line ? LDS_FLAG_NEAR_LINE : 0u};
    if (fabs(point->hz / REFERENCE_HZ - 1.0) > 1e-9)
        db.u = hypot(20.0 / M_LN10 * hypot(u, u_reference), own_u_db(w->of, point->hz));
    return db;
}

static struct lds_transfer_point point_at(const struct work *w, double hz)
{
    const bool low = w->of->low && hz < w->of->low_to_hz;
    struct lds_transfer_point point;
    lds_transfer_at(low ? w->of->low : w->of->bins, hz, LDS_RESPONSE_POINTS, &point);
    return point;
}

static struct decibels gain_of(const struct work *w, double hz)
{
    const struct lds_transfer_point point = point_at(w, hz);
    return gain_at(w, &point);
}

/* ---- series ---- */

static bool add_row(struct lds_series *series, double hz, double value, double low, double high)
{
    const double row[] = {hz, value};
    if (!lds_series_add_row(series, row))
        return false;
    lds_series_set_limits(series, series->rows - 1, LDS_CURVE_Y, low, high);
    return true;
}

static bool add_gain(const struct work *w, struct lds_channel *channel)
{
    struct lds_series *series = lds_channel_add_series(channel, "response.gain");
    bool memory = series;
    for (size_t i = 0; memory && i < w->transfer.count; i++) {
        const struct decibels db = gain_at(w, &w->transfer.point[i]);
        const double half = lds_coverage(db.dof) * db.u;
        memory = add_row(series, w->transfer.point[i].hz, db.value, db.value - half, db.value + half);
        if (memory)
            series->flag[series->rows - 1] |= db.flags;
    }
    return memory;
}

/* Phases without jumps of a turn, and without the delay that fits them best: least squares over all points. */
static bool add_phase(const struct work *w, struct lds_channel *channel)
{
    const struct lds_transfer *t = &w->transfer;
    double *phase = malloc((t->count + 1) * sizeof *phase), product = 0.0, square = 0.0;
    struct lds_series *series = phase ? lds_channel_add_series(channel, "response.phase") : NULL;
    bool memory = series;
    const double sign = w->of->inverted ? -1.0 : 1.0;
    size_t middle = 0;
    while (memory && middle + 1 < t->count && t->point[middle].hz < REFERENCE_HZ * 0.999)
        middle++;
    for (size_t i = middle; memory && i < t->count; i++) {
        phase[i] = carg(sign * t->point[i].gain);
        if (i > middle)
            phase[i] -= 2.0 * M_PI * rint((phase[i] - phase[i - 1]) / (2.0 * M_PI));
    }
    for (size_t i = middle; memory && i-- > 0;) {
        phase[i] = carg(sign * t->point[i].gain);
        phase[i] -= 2.0 * M_PI * rint((phase[i] - phase[i + 1]) / (2.0 * M_PI));
    }
    for (size_t i = 0; memory && i < t->count; i++) {
        product += t->point[i].hz * phase[i];
        square += t->point[i].hz * t->point[i].hz;
    }
    for (size_t i = 0; memory && i < t->count; i++) {
        const struct lds_transfer_point *point = &t->point[i];
        const double value = (phase[i] - point->hz * product / square) * 180.0 / M_PI;
        const double half = lds_coverage(point->dof) * point->u / cabs(point->gain) * 180.0 / M_PI;
        memory = add_row(series, point->hz, value, value - half, value + half);
    }
    free(phase);
    return memory;
}

static bool add_coherence(const struct work *w, struct lds_channel *channel)
{
    struct lds_series *series = lds_channel_add_series(channel, "response.coherence");
    bool memory = series;
    for (size_t i = 0; memory && i < w->transfer.count; i++) {
        const struct lds_transfer_point *point = &w->transfer.point[i];
        memory = add_row(series, point->hz, point->coherence, lds_transfer_coherence_at(point, 0.025),
                         lds_transfer_coherence_at(point, 0.975));
    }
    return memory;
}

/* ---- figures ---- */

static bool add_at(const struct work *w, struct lds_channel *channel, double hz, const char *name)
{
    char key[40];
    snprintf(key, sizeof key, "response.at.%s", name);
    if (hz < w->of->low_hz || hz > w->of->high_hz)
        return lds_channel_add_absent(channel, key, "the response is known from %.4g Hz to %.4g Hz", w->of->low_hz,
                                      w->of->high_hz);
    const struct decibels db = gain_of(w, hz);
    struct lds_figure *figure = lds_channel_add(channel, key);
    lds_figure_set_normal(figure, db.value, db.u, db.dof);
    figure->flags |= db.flags;
    return true;
}

struct corner {
    double hz, low_hz, high_hz, u_hz;
    double dof;
    const char *why; /* there is none; NULL: there is */
};

/* Where the gain first falls by 3.01 dB, going from 1 kHz towards an end; step: -1 or 1. Bisected; its uncertainty is
 * that of the gain over its slope. */
static bool crossing(const struct work *w, int step, struct corner *corner)
{
    const double ratio = exp2((double)step / LDS_RESPONSE_POINTS);
    double in = REFERENCE_HZ, out = in * ratio;
    while (out > w->of->low_hz && out < w->of->high_hz && gain_of(w, out).value > -HALF_POWER_DB) {
        in = out;
        out *= ratio;
    }
    if (!(out > w->of->low_hz && out < w->of->high_hz))
        return false;
    for (int i = 0; i < 40; i++) {
        const double middle = sqrt(in * out);
        if (gain_of(w, middle).value > -HALF_POWER_DB)
            in = middle;
        else
            out = middle;
    }
    const struct decibels db = gain_of(w, out);
    const double near = exp2(0.5 / LDS_RESPONSE_POINTS);
    const double slope = (gain_of(w, out * near).value - gain_of(w, out / near).value) / (2.0 * log(near));
    const double u_log = db.u / fabs(slope), half = lds_coverage(db.dof) * u_log;
    *corner = (struct corner){out, out * exp(-half), out * exp(half), out * u_log, db.dof, NULL};
    return true;
}

/* A corner beyond the end: 1/gain^2 of a first-order filter is a straight line over 1/f^2 (low) or f^2 (high), and 2 at
 * the corner. */
static void extrapolate(const struct work *w, int step, struct corner *corner)
{
    enum { OCTAVES = 3, MOST = OCTAVES * LDS_RESPONSE_POINTS };
    double x[MOST], y[MOST], weight[MOST], c0, c1, cov00, cov01, cov11, chisq;
    const double end = step < 0 ? w->of->low_hz : w->of->high_hz;
    size_t n = 0;
    for (size_t i = 0; i < w->transfer.count && n < MOST; i++) {
        const double f = w->transfer.point[i].hz, octaves = fabs(log2(f / end));
        const struct decibels db = gain_at(w, &w->transfer.point[i]);
        if (octaves > OCTAVES || !(db.u > 0.0))
            continue;
        y[n] = pow(10.0, -db.value / 10.0);
        x[n] = step < 0 ? end * end / (f * f) : f * f / (end * end);
        weight[n] = 1.0 / pow(y[n] * db.u * M_LN10 / 10.0, 2.0);
        n++;
    }
    corner->why = "the gain does not fall by 3 dB in the range covered, nor does it show a first-order filter with its "
                  "corner beyond";
    if (n < 6 || gsl_fit_wlinear(x, 1, weight, 1, y, 1, n, &c0, &c1, &cov00, &cov01, &cov11, &chisq) != 0)
        return;
    const double dof = (double)n - 2.0, scale = fmax(1.0, chisq / dof);
    if (gsl_cdf_chisq_Q(chisq / (1.0 + chisq / dof), dof) < 1e-3 && chisq / dof > 9.0)
        return;
    const double k = lds_coverage(dof), ratio = (2.0 - c0) / c1;
    /* u of the ratio: from both coefficients, which are correlated; an error common to all points does not average out
     */
    const double own = ratio * (c0 + c1) * BEYOND * own_u_db(w->of, end) * M_LN10 / 10.0;
    const double u = sqrt(scale * (cov00 + 2.0 * ratio * cov01 + ratio * ratio * cov11) + own * own) / fabs(c1);
    const double at[3] = {ratio, ratio - k * u, ratio + k * u};
    double hz[3];
    for (int i = 0; i < 3; i++)
        hz[i] = at[i] > 0.0 ? (step < 0 ? end / sqrt(at[i]) : end * sqrt(at[i])) : (double)NAN;
    if (!(c1 > 0.0) || isnan(hz[0]) || isnan(hz[1]) || fmax(hz[1], hz[2]) > 2.0 * fmin(hz[1], hz[2]))
        return;
    *corner = (struct corner){hz[0], fmin(hz[1], hz[2]), fmax(hz[1], hz[2]), 0.5 * hz[0] * u / ratio, dof, NULL};
}

static bool add_corner(const struct work *w, struct lds_channel *channel, int step)
{
    const char *key = step < 0 ? "response.corner.low" : "response.corner.high";
    struct corner corner = {0};
    if (!crossing(w, step, &corner))
        extrapolate(w, step, &corner);
    if (corner.why)
        return lds_channel_add_absent(channel, key, "%s", corner.why);
    lds_figure_set(lds_channel_add(channel, key), corner.hz, corner.low_hz, corner.high_hz, corner.u_hz, corner.dof);
    return true;
}

/* The largest and the smallest of many points are extreme partly by chance. The lower limit allows for chance at every
 * point (Bonferroni). */
static bool add_ripple(const struct work *w, struct lds_channel *channel)
{
    const double band[] = {20.0, 20e3};
    struct decibels most = {.value = -INFINITY}, least = {.value = INFINITY};
    size_t n = 0;
    if (band[0] < w->of->low_hz * (1.0 - 1e-9) || band[1] > w->of->high_hz * (1.0 + 1e-9))
        return lds_channel_add_absent(channel, "response.ripple.20-20k",
                                      "the response is known from %.4g Hz to %.4g Hz", w->of->low_hz, w->of->high_hz);
    for (size_t i = 0; i < w->transfer.count + 2; i++) {
        const bool edge = i >= w->transfer.count;
        const double hz = edge ? band[i - w->transfer.count] : w->transfer.point[i].hz;
        if (hz < band[0] || hz > band[1])
            continue;
        const struct decibels db = edge ? gain_of(w, hz) : gain_at(w, &w->transfer.point[i]);
        most = db.value > most.value ? db : most;
        least = db.value < least.value ? db : least;
        n++;
    }
    struct lds_figure *figure = lds_channel_add(channel, "response.ripple.20-20k");
    const double u = hypot(most.u, least.u), many = gsl_cdf_ugaussian_Qinv(0.025 / (double)n);
    lds_figure_set_normal(figure, most.value - least.value, u, fmin(most.dof, least.dof));
    figure->low = fmax(0.0, figure->value - many * u);
    figure->band_hz[0] = band[0];
    figure->band_hz[1] = band[1];
    return true;
}

/* Output volts over input volts at 1 kHz, where both benches are calibrated. */
static bool add_volts_gain(const struct work *w, struct lds_channel *channel)
{
    const double out_volts = w->of->bench ? lds_bench_volts_per_unit(w->of->bench) : (double)NAN;
    const double ratio = cabs(w->reference.gain) / chain_gain(w->of, REFERENCE_HZ) * out_volts / w->of->in_volts;
    if (isnan(ratio))
        return lds_channel_add_absent(channel, "gain", "the volts of %s are not known: %s",
                                      isnan(out_volts) ? "the output" : "the input",
                                      isnan(out_volts) ? "the bench states no full scale"
                                                       : "state play_full_scale, or a bench of the reference channel");
    struct lds_figure *figure = lds_channel_add(channel, "gain");
    const double u = hypot(20.0 / M_LN10 * w->reference.u / cabs(w->reference.gain), own_u_db(w->of, REFERENCE_HZ));
    double u_b = lds_bench_level_u(w->of->bench);
    if (w->of->in_bench)
        u_b = hypot(u_b, lds_bench_level_u(w->of->in_bench));
    lds_figure_set_normal(figure, 20.0 * log10(ratio), u, w->reference.dof);
    lds_figure_add_bench(figure, 20.0 / M_LN10 * u_b);
    return true;
}

static bool add_figures(const struct work *w, struct lds_channel *channel)
{
    static const struct {
        double hz;
        const char *name;
    } at[] = {{20.0, "20"}, {10e3, "10k"}, {20e3, "20k"}, {50e3, "50k"}, {100e3, "100k"}};
    bool memory = true;
    for (size_t i = 0; memory && i < sizeof at / sizeof *at; i++)
        memory = add_at(w, channel, at[i].hz, at[i].name);
    return memory && add_corner(w, channel, -1) && add_corner(w, channel, 1) && add_ripple(w, channel) &&
           add_volts_gain(w, channel);
}

static void take_low(struct work *w)
{
    for (size_t i = 0; i < w->transfer.count && w->of->low && w->transfer.point[i].hz < w->of->low_to_hz; i++)
        w->transfer.point[i] = point_at(w, w->transfer.point[i].hz);
}

bool lds_response_figures(const struct lds_response *response, struct lds_channel *channel)
{
    struct work w = {.of = response};
    if (response->low_hz > REFERENCE_HZ || response->high_hz < REFERENCE_HZ)
        return lds_channel_add_absent(channel, "response.gain",
                                      "the response is given relative to 1 kHz, and known from %.4g Hz to %.4g Hz",
                                      response->low_hz, response->high_hz);
    lds_transfer_at(response->bins, REFERENCE_HZ, LDS_RESPONSE_POINTS, &w.reference);
    bool memory =
        lds_transfer_fit(response->bins, response->low_hz, response->high_hz, LDS_RESPONSE_POINTS, &w.transfer);
    take_low(&w);
    memory = memory && add_gain(&w, channel);
    if (memory)
        memory = response->phase ? add_phase(&w, channel)
                                 : lds_channel_add_absent(channel, "response.phase", "%s", response->no_phase);
    if (memory && response->coherence)
        memory = add_coherence(&w, channel);
    memory = memory && add_figures(&w, channel);
    lds_transfer_free(&w.transfer);
    return memory;
}
