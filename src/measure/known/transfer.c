#include "measure/known/transfer.h"

#include <gsl/gsl_cdf.h>
#include <math.h>
#include <stdlib.h>

#include "measure/statistics/interval.h"

enum { FEWEST_BINS = 6, POOLED = 8 };
static const double UNLIKELY = 0.01;   /* by chance, in the F test */
static const double NEAR_LOBES = 30.0; /* a steady line farther away has no effect */
static const double WIDE = 0.03; /* half a band over its middle: in wider bands a parabola is fitted, not a line */

/* Sums over the bins around a frequency for the fit of out = (a + b u + c u^2) in, with u from -1 to 1. */
struct sums {
    size_t n, bin;             /* how many, and the first */
    double from, step;         /* u of the first, and from one to the next */
    double in2[5];             /* |in|^2 times 1, u, u^2, ... */
    double complex product[3]; /* conj(in) out times 1, u, u^2 */
    double out2, noise;
};

static double complex input(const struct lds_transfer_bins *bins, size_t k)
{
    return bins->in ? bins->in[k] : 1.0;
}

static double overlap_of(const struct lds_transfer_bins *bins)
{
    return fmax(bins->overlap, 1.0);
}

static double complex turned(const struct lds_transfer_bins *bins, size_t k)
{
    if (bins->delay_s == 0.0)
        return bins->out[k];
    return bins->out[k] * cexp(I * (2.0 * M_PI * bins->delay_s * bins->bin_hz * (double)k));
}

static struct sums sum(const struct lds_transfer_bins *bins, size_t first, size_t last, double hz, double half_hz)
{
    struct sums s = {
        .bin = first, .from = (bins->bin_hz * (double)first - hz) / half_hz, .step = bins->bin_hz / half_hz};
    for (size_t k = first; k <= last; k++) {
        const double u = s.from + s.step * (double)(k - first);
        const double complex x = input(bins, k);
        const double square = creal(x * conj(x));
        const double complex y = turned(bins, k), product = conj(x) * y;
        s.n++;
        const double u2 = u * u;
        s.in2[0] += square;
        s.in2[1] += u * square;
        s.in2[2] += u2 * square;
        s.in2[3] += u * u2 * square;
        s.in2[4] += u2 * u2 * square;
        s.product[0] += product;
        s.product[1] += u * product;
        s.product[2] += u2 * product;
        s.out2 += creal(y * conj(y));
        s.noise += bins->noise ? bins->noise[k] : 0.0;
    }
    return s;
}

double lds_transfer_coherence_at(const struct lds_transfer_point *point, double probability)
{
    const double noise = (1.0 - point->coherence) / lds_chi_square_quantile(probability, point->dof);
    return point->coherence / (point->coherence + noise);
}

static double coherence(double power, double noise)
{
    return power / (power + noise);
}

/* There are two estimates of the noise in a bin of the averaged output: from repeats, and `left`, the residual of the
 * fit, which includes distortion and changes of the gain that the fit does not follow. If `left` is significantly
 * larger (F test), it alone counts; otherwise both are pooled. */
static void set_noise(struct lds_transfer_point *point, const struct lds_transfer_bins *bins, const struct sums *s,
                      double left, double left_dof, double scale)
{
    const double noise = s->noise / (double)s->n / bins->averages, dof = bins->noise_dof * (double)s->n;
    double variance = left;
    point->dof = left_dof;
    if (bins->noise && !(left > noise && gsl_cdf_fdist_Q(left / noise, left_dof, dof) < UNLIKELY)) {
        variance = (noise * dof + left * left_dof) / (dof + left_dof);
        point->dof = dof + left_dof;
    }
    point->u = sqrt(0.5 * variance * scale);
    const double single = variance + (bins->noise ? noise * (bins->averages - 1.0) : 0.0);
    point->coherence = coherence(fmax(s->out2 / (double)s->n - variance, 0.0), single);
}

/* The gain as a sum over bins of `out`: the weight of each. */
struct weights {
    size_t first, count;
    const double complex *each; /* NULL: conj(in) times the parabola below, from -1 to 1 over the bins */
    double row[3], from, step;
};

static double complex weight_of(const struct lds_transfer_bins *bins, const struct weights *w, size_t k)
{
    if (w->each)
        return w->each[k - w->first];
    const double u = w->from + w->step * (double)(k - w->first);
    return (w->row[0] + u * (w->row[1] + u * w->row[2])) * conj(input(bins, k));
}

/* What nearby steady lines add to the gain counts as amplitudes of unknown phase. */
static void add_lines(const struct lds_transfer_bins *bins, const struct weights *w, struct lds_transfer_point *point)
{
    const double n = 2.0 * ((double)bins->bins - 1.0), near = NEAR_LOBES * n / (double)bins->window.length;
    double square = 0.0;
    for (size_t i = 0; i < bins->lines; i++) {
        const struct lds_transfer_line *line = &bins->line[i];
        double complex sum = 0.0;
        if (line->bin < (double)w->first - near || line->bin > (double)(w->first + w->count) + near)
            continue;
        for (size_t k = w->first; k < w->first + w->count; k++)
            sum += weight_of(bins, w, k) * lds_part_window_transform(&bins->window, (line->bin - (double)k) / n);
        square += line->half * line->half * creal(sum * conj(sum));
    }
    point->near_line = 0.5 * square > point->u * point->u;
    point->u = sqrt(point->u * point->u + 0.5 * square);
}

/* Fits a straight line, or a parabola where the band is wide, by normal equations of the moments; their inverse gives
 * the variance. */
static void fit(const struct lds_transfer_bins *bins, const struct sums *s, bool wide, struct lds_transfer_point *point)
{
    const double *m = s->in2;
    const size_t terms = wide ? 3 : 2;
    double complex x[3] = {0.0};
    double inverse[3] = {0.0}; /* first row of the inverse */
    if (wide) {
        const double c00 = m[2] * m[4] - m[3] * m[3], c01 = m[2] * m[3] - m[1] * m[4], c02 = m[1] * m[3] - m[2] * m[2];
        const double c11 = m[0] * m[4] - m[2] * m[2], c12 = m[1] * m[2] - m[0] * m[3], c22 = m[0] * m[2] - m[1] * m[1];
        const double determinant = m[0] * c00 + m[1] * c01 + m[2] * c02;
        const double complex *p = s->product;
        x[0] = (c00 * p[0] + c01 * p[1] + c02 * p[2]) / determinant;
        x[1] = (c01 * p[0] + c11 * p[1] + c12 * p[2]) / determinant;
        x[2] = (c02 * p[0] + c12 * p[1] + c22 * p[2]) / determinant;
        inverse[0] = c00 / determinant;
        inverse[1] = c01 / determinant;
        inverse[2] = c02 / determinant;
    } else {
        const double determinant = m[0] * m[2] - m[1] * m[1];
        x[0] = (m[2] * s->product[0] - m[1] * s->product[1]) / determinant;
        x[1] = (m[0] * s->product[1] - m[1] * s->product[0]) / determinant;
        inverse[0] = m[2] / determinant;
        inverse[1] = -m[1] / determinant;
    }
    double explained = 0.0;
    for (size_t i = 0; i < terms; i++)
        explained += creal(conj(x[i]) * s->product[i]);
    const double overlap = overlap_of(bins), free = (double)s->n / overlap - (double)terms;
    const double left = fmax(s->out2 - explained, 1e-30 * s->out2) / (overlap * free);
    point->gain = x[0];
    set_noise(point, bins, s, left, 2.0 * free, overlap * inverse[0]);
    const struct weights weights = {s->bin, s->n, NULL, {inverse[0], inverse[1], inverse[2]}, s->from, s->step};
    add_lines(bins, &weights, point);
}

/* Interpolates through the two bins on each side, by a polynomial in log frequency (Lagrange). The noise is that of the
 * bins around. */
static void between(const struct lds_transfer_bins *bins, double hz, struct lds_transfer_point *point)
{
    const double most = (double)bins->bins - 4.0;
    const size_t begin = (size_t)fmax(1.0, fmin(floor(hz / bins->bin_hz) - 1.0, most));
    double squares = 0.0;
    double complex weight[4];
    for (size_t i = begin; i < begin + 4; i++) {
        double share = 1.0;
        for (size_t k = begin; k < begin + 4; k++)
            if (k != i)
                share *= log(hz / (bins->bin_hz * (double)k)) / log((double)i / (double)k);
        weight[i - begin] = share / input(bins, i);
        point->gain += weight[i - begin] * turned(bins, i);
        squares += share * share;
    }
    const double alone = 1.0 / overlap_of(bins); /* noise that bins share does not average out */
    const size_t pooled = (size_t)(POOLED / alone);
    const size_t first = begin > pooled ? begin - pooled : 1;
    const size_t last = begin + pooled < bins->bins ? begin + pooled : bins->bins - 1;
    const struct sums s = sum(bins, first, last, hz, hz);
    const double noise = s.noise / (double)s.n / bins->averages, in2 = s.in2[0] / (double)s.n;
    squares = alone * squares + (1.0 - alone);
    point->u = bins->noise ? sqrt(0.5 * noise / in2 * squares) : (double)NAN;
    point->dof = bins->noise_dof * (double)s.n;
    const struct weights weights = {.first = begin, .count = 4, .each = weight};
    add_lines(bins, &weights, point);
    if (bins->noise)
        point->coherence = coherence(fmax(s.out2 / (double)s.n - noise, 0.0), noise * bins->averages);
}

void lds_transfer_at(const struct lds_transfer_bins *bins, double hz, int per_octave, struct lds_transfer_point *point)
{
    const double half_step = exp2(0.5 / per_octave);
    while (bins->above && hz >= bins->to_hz)
        bins = bins->above;
    const double half_hz = fmax(hz * (half_step - 1.0), 0.5 * bins->fewest * bins->bin_hz);
    const double first = ceil((hz - half_hz) / bins->bin_hz), last = floor((hz + half_hz) / bins->bin_hz);
    *point = (struct lds_transfer_point){.hz = hz, .coherence = NAN};
    if (last - first + 1.0 < FEWEST_BINS * overlap_of(bins) || first < 1.0 || last > (double)(bins->bins - 1)) {
        between(bins, hz, point);
        return;
    }
    const struct sums s = sum(bins, (size_t)first, (size_t)last, hz, half_hz);
    fit(bins, &s, half_hz > WIDE * hz, point);
}

bool lds_transfer_fit(const struct lds_transfer_bins *bins, double low_hz, double high_hz, int per_octave,
                      struct lds_transfer *transfer)
{
    const int below = (int)floor(per_octave * log2(1000.0 / low_hz) + 1e-9);
    const int above = (int)floor(per_octave * log2(high_hz / 1000.0) + 1e-9);
    *transfer = (struct lds_transfer){0};
    if (below + above < 0)
        return true;
    transfer->point = malloc((size_t)(below + above + 1) * sizeof *transfer->point);
    if (!transfer->point)
        return false;
    for (int i = -below; i <= above; i++)
        lds_transfer_at(bins, 1000.0 * exp2((double)i / per_octave), per_octave, &transfer->point[transfer->count++]);
    return true;
}

void lds_transfer_free(struct lds_transfer *transfer)
{
    free(transfer->point);
    *transfer = (struct lds_transfer){0};
}
