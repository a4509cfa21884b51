/* Tracks the common phase of the comb: psi(t) = 2 pi f t + phase(t); order k turns at k psi. */
#include "measure/mains/segment.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "measure/mains/path.h"

enum { STEERING_MAX = 6, ROUNDS = 8, NODES_LEAST = 8 };
static const double NODE_S = 0.25, BRIEF_S = 2.0;
static const double STANDS_OUT = 11.0; /* times the noise: one of 40 empty orders exceeds this once in 1500 segments,
                                        * and would pull at the phase with its order squared */

struct tracking {
    const struct lds_mains_bands *bands;
    const struct lds_mains_path *path;
    bool open[LDS_MAINS_ORDERS + 1]; /* may steer */
    size_t per_node, nodes;
    double *phase;                         /* points */
    double *node, *gradient, *information; /* nodes */
    double *smooth;
    double complex *base, *turn, *part; /* points: exp(-j phase), its k-th power, demodulated order */
    double merit, best_merit;           /* power over noise of all orders that steered; the best so far */
    double *best;                       /* nodes: the phase that had the best merit */
    int lowest, highest;                /* orders that steered in the last round */
};

static double least_energy(const struct lds_comb *comb, int order)
{
    return fmax(STANDS_OUT, 5.0 * comb->scatter[order]);
}

/* The strongest orders, for a first path; when none stands out, the one that contributes most. A short segment uses all
 * that exceed the noise. */
static void choose_steering(struct lds_mains_path *path, const struct lds_comb *comb, const bool *open, double seconds)
{
    const bool brief = seconds < BRIEF_S;
    bool taken[LDS_MAINS_ORDERS + 1] = {false};
    path->orders = 0;
    while (path->orders < (brief ? LDS_MAINS_ORDERS : STEERING_MAX)) {
        int best = 0;
        for (int k = 1; k <= LDS_MAINS_ORDERS; k++)
            if (open[k] && !taken[k] && (!best || comb->energy[k] > comb->energy[best]))
                best = k;
        if (!best || (path->orders && comb->energy[best] < (brief ? 1.0 : least_energy(comb, best))))
            return;
        taken[best] = true;
        path->order[path->orders++] = best;
    }
}

/* Opens the orders that may steer: those clear of the tone; where a sideband of the tone could stand, only with
 * `beside`, since it would not follow the mains' phase k times. Returns whether one of them stands out. */
static bool open_orders(struct tracking *t, const struct lds_comb *comb, const struct lds_mains_tones *tones,
                        double taper_s, bool beside)
{
    bool stands_out = false;
    for (int k = 1; k <= LDS_MAINS_ORDERS; k++) {
        t->open[k] = t->bands->z[k] && comb->density[k] > 0.0 && (beside || !comb->beside[k]) &&
                     lds_mains_band_clear(t->bands, tones, taper_s, k);
        stands_out = stands_out || (t->open[k] && comb->energy[k] >= least_energy(comb, k));
    }
    return stands_out;
}

static double steering_energy(const struct lds_mains_path *path, const struct lds_comb *comb)
{
    double sum = 0.0;
    for (int i = 0; i < path->orders; i++)
        sum += fmax(0.0, comb->energy[path->order[i]]);
    return fmax(sum, 1.0);
}

static void demodulate(struct tracking *t, int order)
{
    const double complex *z = t->bands->z[order];
    for (size_t m = 0; m < t->bands->points; m++) {
        const double a = creal(z[m]), b = cimag(z[m]), c = creal(t->turn[m]), s = cimag(t->turn[m]);
        t->part[m] = lds_complex(a * c - b * s, a * s + b * c);
    }
}

static void advance_turn(struct tracking *t)
{
    for (size_t m = 0; m < t->bands->points; m++) {
        const double a = creal(t->turn[m]), b = cimag(t->turn[m]), c = creal(t->base[m]), s = cimag(t->base[m]);
        t->turn[m] = lds_complex(a * c - b * s, a * s + b * c);
    }
}

/* Adds the contribution of one order: the log likelihood -sum |z - taper C exp(jk phase)|^2/noise has the slope 2k
 * Im(z~ conj C) taper/noise and the information 2 k^2 |C|^2 taper^2/noise. */
static void add_order(struct tracking *t, int order, double taper_sum, double taper_sum2)
{
    const struct lds_mains_bands *bands = t->bands;
    demodulate(t, order);
    double complex c = 0.0;
    for (size_t m = 0; m < bands->points; m++)
        c += t->part[m];
    c /= taper_sum;
    const double noise = t->path->noise[order], bias = noise * taper_sum2 / (taper_sum * taper_sum);
    const double power = creal(c) * creal(c) + cimag(c) * cimag(c);
    if (power < STANDS_OUT * bias)
        return;
    t->merit += power / bias;
    t->highest = order;
    if (!t->lowest)
        t->lowest = order;
    const double slope = 2.0 * order / noise, curve = 2.0 * order * order * (power - bias) / noise;
    for (size_t m = 0; m < bands->inside; m++) {
        const size_t n = m / t->per_node < t->nodes ? m / t->per_node : t->nodes - 1;
        const double w = bands->taper[m];
        t->gradient[n] += slope * w * (cimag(t->part[m]) * creal(c) - creal(t->part[m]) * cimag(c));
        t->information[n] += curve * w * w;
    }
}

static double node_at(const struct tracking *t, size_t n)
{
    return (double)n * (double)t->per_node + 0.5 * ((double)t->per_node - 1.0);
}

/* Cubic through the nodes (Catmull-Rom), straight beyond the outermost. */
static void spread(struct tracking *t)
{
    const double *y = t->node;
    const size_t last = t->nodes - 1;
    for (size_t m = 0; m < t->bands->points; m++) {
        const double at = (lds_mains_point_time(t->bands, m) - node_at(t, 0)) / (double)t->per_node;
        if (at <= 0.0) {
            t->phase[m] = y[0] + at * (y[1] - y[0]);
            continue;
        }
        if (at >= (double)last) {
            t->phase[m] = y[last] + (at - (double)last) * (y[last] - y[last - 1]);
            continue;
        }
        const size_t n = (size_t)at;
        const double u = at - (double)n, p1 = y[n], p2 = y[n + 1];
        const double p0 = n ? y[n - 1] : 2.0 * p1 - p2, p3 = n + 2 <= last ? y[n + 2] : 2.0 * p2 - p1;
        t->phase[m] =
            p1 + 0.5 * u * (p2 - p0 + u * (2.0 * p0 - 5.0 * p1 + 4.0 * p2 - p3 + u * (3.0 * (p1 - p2) + p3 - p0)));
    }
}

static void gather(struct tracking *t)
{
    for (size_t n = 0; n < t->nodes; n++) {
        const size_t first = n * t->per_node;
        double sum = 0.0;
        for (size_t i = 0; i < t->per_node; i++)
            sum += t->phase[first + i < t->bands->points ? first + i : t->bands->points - 1];
        t->node[n] = sum / (double)t->per_node;
    }
}

/* One step of the scoring method over all orders. An order that the phase does not yet fit has a small C and little
 * influence: low orders lead, higher ones refine. Returns the change, as a phase of the highest order; < 0: no
 * memory. */
static double refine(struct tracking *t, double *variance_of_ends)
{
    const struct lds_mains_bands *bands = t->bands;
    double sum = 0.0, sum2 = 0.0, change = 0.0;
    for (size_t m = 0; m < bands->points; m++) {
        sum += bands->taper[m];
        sum2 += bands->taper[m] * bands->taper[m];
        t->base[m] = cexp(-I * t->phase[m]);
        t->turn[m] = 1.0;
    }
    memset(t->gradient, 0, t->nodes * sizeof *t->gradient);
    memset(t->information, 0, t->nodes * sizeof *t->information);
    t->highest = t->lowest = 0;
    t->merit = 0.0;
    for (int k = 1; k <= LDS_MAINS_ORDERS; k++) {
        advance_turn(t);
        if (t->open[k])
            add_order(t, k, sum, sum2);
    }
    if (t->merit > t->best_merit) {
        t->best_merit = t->merit;
        memcpy(t->best, t->node, t->nodes * sizeof *t->best);
    }
    if (!t->highest)
        return 0.0;
    for (size_t n = 0; n < t->nodes; n++)
        t->gradient[n] = t->node[n] + (t->information[n] > 0.0 ? t->gradient[n] / t->information[n] : 0.0);
    struct lds_smooth smooth = {.n = t->nodes,
                                .step_s = (double)t->per_node / bands->rate_hz,
                                .measured = t->gradient,
                                .information = t->information,
                                .smooth = t->smooth};
    if (!lds_smooth_phase(&smooth))
        return -1.0;
    for (size_t n = 0; n < t->nodes; n++)
        change = fmax(change, fabs(t->smooth[n] - t->node[n]));
    /* Beyond a radian of the lowest order the likelihood is not a parabola, so the step is limited. */
    const double share = fmin(1.0, 1.0 / (change * t->lowest + 1e-300));
    for (size_t n = 0; n < t->nodes; n++)
        t->node[n] += share * (t->smooth[n] - t->node[n]);
    spread(t);
    *variance_of_ends = smooth.variance_of_ends;
    return change * t->highest;
}

/* Mean frequency, and its lowest and highest where the edges leave room. */
static void report(const struct tracking *t, double variance_of_ends, struct lds_mains_track *track)
{
    const double step_s = (double)t->per_node / t->bands->rate_hz, scale = 1.0 / (2.0 * M_PI * step_s);
    const double f0 = t->bands->frequency_hz, span = (double)(t->nodes - 1);
    track->frequency_hz = f0 + scale * (t->node[t->nodes - 1] - t->node[0]) / span;
    track->u_frequency_hz = scale * sqrt(fmax(0.0, variance_of_ends)) / span;
    track->steered = t->best_merit > 0.0;
    track->low_hz = INFINITY;
    track->high_hz = -INFINITY;
    const size_t mid = (size_t)(0.5 * span * (double)t->per_node);
    for (size_t n = 0; n + 1 < t->nodes; n++) {
        const size_t m = (size_t)node_at(t, n);
        if (m < t->bands->points && t->bands->taper[m] < 0.5 * t->bands->taper[mid])
            continue;
        const double f = f0 + scale * (t->node[n + 1] - t->node[n]);
        track->low_hz = fmin(track->low_hz, f);
        track->high_hz = fmax(track->high_hz, f);
    }
    if (!(track->low_hz <= track->high_hz))
        track->low_hz = track->high_hz = track->frequency_hz;
}

static bool allocate(struct tracking *t)
{
    const size_t points = t->bands->points;
    t->base = malloc(3 * points * sizeof *t->base);
    t->node = calloc(5 * t->nodes, sizeof *t->node);
    if (!t->base || !t->node)
        return false;
    t->turn = t->base + points;
    t->part = t->turn + points;
    t->gradient = t->node + t->nodes;
    t->information = t->gradient + t->nodes;
    t->smooth = t->information + t->nodes;
    t->best = t->smooth + t->nodes;
    return true;
}

static bool start(struct tracking *t, const struct lds_mains_path *path, const struct lds_comb *comb, double seconds)
{
    /* A frame should hold the energy of a dozen noise bins, or the path follows noise. */
    const double hop_s = fmax(0.5, 9.0 * seconds / steering_energy(path, comb));
    if (path->orders && seconds >= BRIEF_S && hop_s <= 0.25 * seconds)
        return lds_mains_path_find(path, t->bands, hop_s, t->phase);
    if (path->orders)
        lds_mains_path_constant(path, t->bands, 3.0 * comb->step_hz, t->phase);
    return true;
}

bool lds_mains_track_make(struct lds_mains_track *track, const struct lds_mains_bands *bands,
                          const struct lds_comb *comb, const struct lds_mains_tones *tones, double taper_s)
{
    struct lds_mains_path path = {0};
    struct tracking t = {.bands = bands, .path = &path};
    if (!open_orders(&t, comb, tones, taper_s, false))
        open_orders(&t, comb, tones, taper_s, true);
    for (int k = 1; k <= LDS_MAINS_ORDERS; k++)
        path.noise[k] = t.open[k] ? 0.5 * comb->density[k] * bands->rate_hz : 0.0;
    const double seconds = (double)bands->inside / bands->rate_hz;
    choose_steering(&path, comb, t.open, seconds);
    t.per_node = (size_t)fmax(1.0, fmin(round(NODE_S * bands->rate_hz), floor((double)bands->inside / NODES_LEAST)));
    t.nodes = (bands->inside + t.per_node - 1) / t.per_node;
    track->phase = t.phase = calloc(bands->points, sizeof *t.phase);
    bool memory = t.phase && allocate(&t) && t.nodes >= 3 && start(&t, &path, comb, seconds);
    double variance_of_ends = INFINITY;
    if (memory) {
        gather(&t);
        spread(&t);
        for (int round = 0; round < ROUNDS; round++) {
            const double change = refine(&t, &variance_of_ends);
            memory = change >= 0.0;
            if (!memory || change < 0.02)
                break;
        }
        /* The iteration may have diverged from a bad start: keep the phase with the highest merit. */
        if (t.best_merit > 1.01 * t.merit) {
            memcpy(t.node, t.best, t.nodes * sizeof *t.node);
            spread(&t);
        }
    }
    if (memory)
        report(&t, variance_of_ends, track);
    free(t.base);
    free(t.node);
    return memory;
}

void lds_mains_track_free(struct lds_mains_track *track)
{
    free(track->phase);
    track->phase = NULL;
}
