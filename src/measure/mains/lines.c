#include "measure/mains/lines.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include <fftw3.h>
#include <gsl/gsl_fit.h>
#include <gsl/gsl_sf_psi.h>
#include <gsl/gsl_statistics_double.h>

#include "measure/statistics/median.h"
#include "spectrum/fft.h"
#include "spectrum/window.h"

/* Extra edges, as a share of the segment, tried in turn until the tone does not reach the order. */
static const double EDGES[] = {0.0, 0.25, 0.5, 1.0};
enum { EDGE_COUNT = sizeof EDGES / sizeof *EDGES };
static const double INSIDE_S = 4.0;  /* from here on the extra edges lie within the segment's own */
static const double LONG_S = 8.0;    /* from here on the ringing of a band's filter is the smaller part of a segment */
static const double CUT_LEAK = 1e-7; /* of the power of a line that the filter cuts; a hundred times the most that was
                                      * seen */
static const double SHORT_S = 1.5;   /* below: no room for undisturbed noise beside a line's lobe */

struct work {
    const struct lds_mains_bands *bands;
    const struct lds_mains_track *track;
    const struct lds_mains_tones *tones;
    const struct lds_mains_spectrum *spectrum;
    struct lds_mains_apart apart;
    double wander_hz;
    double *edge[EDGE_COUNT]; /* `inside` points each */
    double edged_s;           /* their length, without the first */
    double *store;
    double complex *z, *spectral; /* points */
    double complex *shape, *rho;  /* points: shape of a line in the spectrum, and correlation of the bins */
    double complex *base, *turn;  /* points: exp(-j phase), and its power of `turned` */
    int turned;
    double sum2; /* of the taper's squares */
    double *sample;
    fftw_plan plan;
};

static double square(double complex c)
{
    return creal(c) * creal(c) + cimag(c) * cimag(c);
}

/* Transforms of the taper and of its square, each over its sum: the shape of a line and the correlation of the bins. */
static void find_shapes(struct work *w)
{
    const struct lds_mains_bands *bands = w->bands;
    double complex *const out[2] = {w->shape, w->rho};
    w->sum2 = 0.0;
    for (size_t m = 0; m < bands->points; m++)
        w->sum2 += bands->taper[m] * bands->taper[m];
    for (int i = 0; i < 2; i++) {
        for (size_t m = 0; m < bands->points; m++)
            w->spectral[m] = i ? bands->taper[m] * bands->taper[m] : bands->taper[m];
        fftw_execute(w->plan);
        for (size_t m = bands->points; m-- > 0;)
            out[i][m] = w->spectral[m] / w->spectral[0];
    }
}

static bool prepare(struct work *w)
{
    const size_t points = w->bands->points, inside = w->bands->inside;
    w->store = malloc(EDGE_COUNT * inside * sizeof *w->store);
    w->z = fftw_alloc_complex(6 * points);
    w->sample = malloc(points * sizeof *w->sample);
    if (!w->store || !w->z || !w->sample)
        return false;
    w->spectral = w->z + points;
    w->shape = w->spectral + points;
    w->rho = w->shape + points;
    w->base = w->rho + points;
    w->turn = w->base + points;
    for (size_t m = 0; m < points; m++) {
        w->base[m] = cexp(-I * w->track->phase[m]);
        w->turn[m] = 1.0;
    }
    /* The extra edges lie inside the segment's flat part where that is long enough: their product with the segment's
     * own edges would have lobes of its own. */
    const double seconds = w->spectrum->seconds, own = seconds < INSIDE_S ? 0.0 : w->spectrum->taper_s;
    w->edged_s = seconds - 2.0 * own;
    for (int i = 0; i < EDGE_COUNT; i++) {
        w->edge[i] = w->store + (size_t)i * inside;
        for (size_t m = 0; m < inside; m++) {
            const double t = ((double)m + 0.5) * seconds / (double)inside;
            w->edge[i][m] = i ? lds_mains_taper(EDGES[i], (t - own) / w->edged_s) : 1.0;
        }
    }
    w->plan = lds_fft_complex((int)points, w->spectral, FFTW_FORWARD);
    if (w->plan)
        find_shapes(w);
    return w->plan && lds_mains_apart_make(&w->apart, w->bands, w->track, w->tones, seconds);
}

static void clean_up(struct work *w)
{
    lds_fft_free(w->plan);
    lds_mains_apart_free(&w->apart);
    free(w->store);
    fftw_free(w->z);
    free(w->sample);
}

/* Orders are measured in sequence, so each power of base follows from the one before; forty products of unit vectors
 * have an error below 1e-14. */
static void turn_to(struct work *w, int order)
{
    for (; w->turned < order; w->turned++)
        for (size_t m = 0; m < w->bands->points; m++)
            w->turn[m] *= w->base[m];
    for (size_t m = 0; w->turned > order && m < w->bands->points; m++)
        w->turn[m] = cexp(-I * (order * w->track->phase[m]));
    w->turned = order;
}

static void demodulate(struct work *w, int order)
{
    turn_to(w, order);
    for (size_t m = 0; m < w->bands->points; m++)
        w->z[m] = w->bands->z[order][m] * w->turn[m];
}

/* Is the bin at this offset from the order in the lobe of the tone or a harmonic? */
static bool on_tone(const struct work *w, int order, double offset_hz, double reach_hz)
{
    return lds_mains_tones_distance(w->tones, order * w->bands->frequency_hz + offset_hz) < reach_hz;
}

/* Noise beside the line: the median over the order's band, not demodulated, since the jitter of the tracked phase would
 * spread the tone. The window has full length, so that the line and the tone each cover no more than 8 bins. */
static double noise_beside(struct work *w, int order)
{
    const struct lds_mains_bands *bands = w->bands;
    const double *edge = w->edge[EDGE_COUNT - 1];
    const double lobe = 8.0 / w->edged_s, least = fmax(lobe, 1.0) + order * w->wander_hz;
    double weight = 0.0;
    memset(w->spectral, 0, bands->points * sizeof *w->spectral);
    for (size_t m = 0; m < bands->inside; m++) {
        w->spectral[m] = edge[m] * bands->z[order][m];
        weight += edge[m] * edge[m] * bands->taper[m] * bands->taper[m];
    }
    fftw_execute(w->plan);
    size_t count = 0;
    const double bin_hz = bands->rate_hz / (double)bands->points;
    for (size_t j = 0; j < bands->points; j++) {
        const double offset = bin_hz * (j < bands->points / 2 ? (double)j : (double)j - (double)bands->points);
        const bool beside =
            fabs(offset) > least && fabs(offset) < LDS_MAINS_FLAT * bands->rate_hz - order * w->wander_hz;
        if (beside && !on_tone(w, order, offset, lobe + order * w->wander_hz + 0.3))
            w->sample[count++] = square(w->spectral[j]);
    }
    if (count < 4)
        return NAN;
    return 2.0 * lds_smallest(w->sample, count, count / 2) / M_LN2 / (bands->rate_hz * weight);
}

/* For short segments: what is left in the bins across the band after the line, C times the window's transform, is
 * subtracted. With bins X_j correlated as rho_j, E|X_j - X_0 W_j|^2 = n (1 + W_j^2 - 2 W_j rho_j). */
static double noise_left(struct work *w, int order)
{
    const struct lds_mains_bands *bands = w->bands;
    const double seconds = w->spectrum->seconds, flat_hz = LDS_MAINS_FLAT * bands->rate_hz;
    if (on_tone(w, order, 0.0, 7.0 / w->spectrum->taper_s + flat_hz))
        return NAN;
    memcpy(w->spectral, w->z, bands->points * sizeof *w->z);
    fftw_execute(w->plan);
    const int most = (int)floor(flat_hz * seconds);
    const double step = (double)bands->points / (bands->rate_hz * seconds); /* bins per 1/T */
    double left = 0.0, expected = 0.0;
    for (int j = -most; j <= most; j++) {
        const long i = lround(j * step);
        const size_t at = (size_t)(i < 0 ? i + (long)bands->points : i);
        left += square(w->spectral[at] - w->spectral[0] * w->shape[at]);
        expected += 1.0 + square(w->shape[at]) - 2.0 * creal(w->shape[at] * conj(w->rho[at]));
    }
    return 2.0 * left / expected / (bands->rate_hz * w->sum2);
}

/* A straight line through the logarithms of density over order, for up to 7 neighbours, as each estimate has few bins.
 * dof: complex bins of each; the mean of ln of a Gamma mean of a values is psi(a) - ln a. */
static void smooth_densities(struct lds_mains_line *line, double dof)
{
    double raw[LDS_MAINS_ORDERS + 1];
    for (int k = 1; k <= LDS_MAINS_ORDERS; k++)
        raw[k] = line[k].density;
    const double bias = gsl_sf_psi(dof) - log(dof);
    for (int k = 1; k <= LDS_MAINS_ORDERS; k++) {
        double x[7], y[7], variance[3], misfit, at_k = NAN, exponent;
        size_t n = 0;
        for (int i = k > 3 ? k - 3 : 1; i <= LDS_MAINS_ORDERS && i <= (k > 3 ? k + 3 : 7); i++) {
            if (!(raw[i] > 0.0))
                continue;
            x[n] = log((double)i / k);
            y[n++] = log(raw[i]) - bias;
        }
        if (n > 3)
            gsl_fit_linear(x, 1, y, 1, n, &at_k, &exponent, &variance[0], &variance[1], &variance[2], &misfit);
        else if (n > 0)
            at_k = gsl_stats_mean(y, 1, n);
        line[k].density = exp(at_k);
    }
}

/* The estimate with one choice of edges, and the tone's power that leaks into it. */
struct estimate {
    double complex amplitude;
    double bandwidth_hz, leak;
};

/* Whether the band's filter cuts a line at this offset from the order: the line then loses the shape of the edges and
 * rings for seconds. */
static bool is_cut(const struct work *w, double offset_hz)
{
    const double rate_hz = w->bands->rate_hz;
    return fabs(offset_hz) > LDS_MAINS_FLAT * rate_hz && fabs(offset_hz) < 0.5 * rate_hz;
}

static double leak_of(const struct work *w, int order, const double *edge, double weight, int tone)
{
    const struct lds_mains_bands *bands = w->bands;
    const double offset = w->tones->frequency_hz[tone] - order * bands->frequency_hz;
    if (fabs(offset) > 0.5 * bands->rate_hz) {
        /* Outside the band: only the lobe of the segment's own edges reaches this far. */
        const double off = w->tones->frequency_hz[tone] - order * w->track->frequency_hz;
        const double lobe = lds_window_transform(&lds_window_analysis, off * w->spectrum->taper_s);
        return w->tones->power[tone] * lobe * lobe;
    }
    if (is_cut(w, offset))
        return CUT_LEAK * w->tones->power[tone];
    const int own = w->tones->order[tone];
    const double still =
        2.0 * M_PI * own *
        (w->track->frequency_hz - bands->frequency_hz); /* this part of the offset is also in the tracked phase */
    double complex sum = 0.0;
    for (size_t m = 0; m < bands->inside; m++) {
        const double t = (double)m / bands->rate_hz;
        /* a sideband turns with the mains as many times as it is orders away from its tone */
        const double turn = (2.0 * M_PI * offset - still) * t - (order - own) * w->track->phase[m];
        sum += edge[m] * bands->taper[m] * cexp(I * turn);
    }
    return w->tones->power[tone] * square(sum) / (weight * weight);
}

static struct estimate estimate(const struct work *w, int order, int edges)
{
    const struct lds_mains_bands *bands = w->bands;
    const double *edge = w->edge[edges];
    double sum = 0.0, sum2 = 0.0;
    struct estimate e = {0};
    for (size_t m = 0; m < bands->inside; m++) {
        const double weight = edge[m] * bands->taper[m];
        sum += weight;
        sum2 += weight * weight;
        e.amplitude += edge[m] * w->z[m];
    }
    if (edges == 0) /* the ringing of the filter beyond the segment belongs to the line too */
        for (size_t m = bands->inside; m < bands->points; m++)
            e.amplitude += w->z[m];
    e.amplitude /= sum;
    e.bandwidth_hz = bands->rate_hz * sum2 / (sum * sum);
    const double reach = 0.5 * bands->rate_hz + 7.0 / w->spectrum->taper_s;
    for (int i = 0; i < w->tones->count; i++)
        if (fabs(w->tones->frequency_hz[i] - order * bands->frequency_hz) < reach)
            e.leak += leak_of(w, order, edge, sum, i);
    return e;
}

/* Demodulation would spread the tone by the jitter of the tracked phase. So where the tone is strong, its bins are
 * removed first, from the band under the full window, where it keeps within 7 of them; then the order is demodulated.
 * In a short segment, whose own edges the window cannot avoid, the tone covers many bins, and what is left of it would
 * look like hum. */
static void notch(struct work *w, int order, double distance_hz, struct lds_mains_line *line)
{
    const struct lds_mains_bands *bands = w->bands;
    const double lobe = 7.5 / w->edged_s, bin_hz = bands->rate_hz / (double)bands->points;
    const double *edge = w->edge[EDGE_COUNT - 1];
    const double seconds = w->spectrum->seconds;
    if (seconds < INSIDE_S || (seconds < LONG_S && is_cut(w, distance_hz)))
        return;
    if (distance_hz < 1.6 * lobe + 1.2 * order * w->wander_hz)
        return;
    memset(w->spectral, 0, bands->points * sizeof *w->spectral);
    for (size_t m = 0; m < bands->inside; m++)
        w->spectral[m] = edge[m] * bands->z[order][m];
    fftw_execute(w->plan);
    for (size_t j = 0; j < bands->points; j++) {
        const double offset = bin_hz * (j < bands->points / 2 ? (double)j : (double)j - (double)bands->points);
        w->spectral[j] = on_tone(w, order, offset, lobe) ? 0.0 : conj(w->spectral[j]);
    }
    fftw_execute(w->plan); /* of the conjugate, which gives the conjugate of the inverse transform, too large by the
                              factor `points` */
    double complex c = 0.0;
    double sum = 0.0, sum2 = 0.0;
    for (size_t m = 0; m < bands->points; m++)
        c += conj(w->spectral[m]) * w->turn[m];
    for (size_t m = 0; m < bands->inside; m++) {
        const double weight = edge[m] * bands->taper[m];
        sum += weight;
        sum2 += weight * weight;
    }
    line->amplitude = c / (sum * (double)bands->points);
    line->power = 2.0 * square(line->amplitude);
    line->noise = line->density * bands->rate_hz * sum2 / (sum * sum);
    line->usable = true;
}

/* An order that a sideband of the tone may fall on: both are fitted where they can be separated. */
static bool measure_apart(struct work *w, int order, struct lds_mains_line *line)
{
    enum lds_mains_folding kind;
    line->shared = lds_mains_apart_shared(&w->apart, order, &kind);
    if (!line->shared || !w->apart.usable[kind] || !(line->density > 0.0))
        return false;
    demodulate(w, order);
    struct lds_mains_hum hum;
    lds_mains_apart_measure(&w->apart, w->bands, order, kind, w->z, &hum);
    line->amplitude = hum.amplitude;
    line->power = 2.0 * square(line->amplitude);
    line->noise = line->density * hum.bandwidth_hz + hum.error_power;
    line->usable = true;
    line->shared = false;
    return true;
}

/* Uses the smallest edges with which the tone leaks less than a tenth of the noise. */
static void measure_line(struct work *w, int order, struct lds_mains_line *line)
{
    if (measure_apart(w, order, line))
        return;
    const double distance = lds_mains_tones_distance(w->tones, order * w->track->frequency_hz);
    line->usable = false;
    line->near_tone = distance < 4.0 / w->spectrum->seconds + order * w->wander_hz;
    /* The mains could not be followed and the tone is in the order's band, so tone and wander cannot be separated. */
    if (!w->track->steered && !lds_mains_band_clear(w->bands, w->tones, w->spectrum->taper_s, order))
        line->near_tone = true;
    if (line->near_tone || !(line->density > 0.0))
        return;
    demodulate(w, order);
    for (int i = 0; i < EDGE_COUNT && !line->usable; i++) {
        const struct estimate e = estimate(w, order, i);
        line->amplitude = e.amplitude;
        line->power = 2.0 * square(e.amplitude);
        line->noise = line->density * e.bandwidth_hz;
        line->usable = e.leak < 0.1 * line->noise;
    }
    if (!line->usable)
        notch(w, order, distance, line);
    line->near_tone = !line->usable;
    line->shared = line->shared && line->usable;
}

bool lds_mains_lines_measure(struct lds_mains_line *line, const struct lds_mains_bands *bands,
                             const struct lds_mains_track *track, const struct lds_mains_tones *tones,
                             const struct lds_mains_spectrum *spectrum,
                             void (*piece)(void *context, int order, const double complex *z, double density),
                             void *context)
{
    struct work w = {.bands = bands, .track = track, .tones = tones, .spectrum = spectrum};
    w.wander_hz = 0.5 * (track->high_hz - track->low_hz);
    const bool memory = prepare(&w);
    const bool brief = spectrum->seconds < SHORT_S;
    for (int k = 0; k <= LDS_MAINS_ORDERS; k++)
        line[k] = (struct lds_mains_line){.density = NAN};
    for (int k = 1; memory && k <= LDS_MAINS_ORDERS; k++) {
        if (!bands->z[k] || k * track->frequency_hz > LDS_MAINS_TOP_HZ)
            continue;
        demodulate(&w, k);
        line[k].density = brief ? noise_left(&w, k) : noise_beside(&w, k);
    }
    if (memory && spectrum->seconds < 6.0)
        smooth_densities(line, brief ? LDS_MAINS_FLAT * 2.0 * bands->rate_hz * spectrum->seconds / 1.6 : 20.0);
    for (int k = 1; memory && k <= LDS_MAINS_ORDERS; k++) {
        if (!bands->z[k] || k * track->frequency_hz > LDS_MAINS_TOP_HZ)
            continue;
        measure_line(&w, k, &line[k]);
        enum lds_mains_folding kind;
        line[k].clear = line[k].usable && lds_mains_band_clear(bands, tones, spectrum->taper_s, k) &&
                        !lds_mains_apart_shared(&w.apart, k, &kind);
        if (piece && line[k].clear)
            piece(context, k, w.z, line[k].density);
    }
    clean_up(&w);
    return memory;
}
