/* A first path of the mains frequency through a segment, found without knowing any phase: frames whose power at k f is
 * summed over orders, and the most likely path through them (Viterbi); then the phase steps from frame to frame. */
#include "measure/mains/path.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

static const double RANGE_HZ = 0.15;
enum { STATES_MAX = 301 };

struct frames {
    const struct lds_mains_bands *bands;
    const struct lds_mains_path *path;
    size_t count, step; /* frames; points from one to the next, half the length of a frame */
    double hop_s;
    int states;
    double state_hz;
    double *hann;         /* 2 step */
    double complex *part; /* 2 step: workspace */
    double *score;        /* count x states */
    int *from;
};

static double offset_of(const struct frames *f, int state)
{
    return (state - f->states / 2) * f->state_hz;
}

/* Puts z exp(-j k phase) of one frame, times a Hann window, into part[2 step]; returns the sum of the squared weights.
 */
static double load_frame(const struct frames *f, size_t frame, int order, const double *phase)
{
    const struct lds_mains_bands *bands = f->bands;
    const long first = (long)(frame * f->step) - (long)f->step;
    double weight = 0.0;
    for (long i = 0; i < 2 * (long)f->step; i++) {
        const long m = first + i;
        f->part[i] = 0.0;
        if (m < 0 || m >= (long)bands->inside)
            continue;
        const double w = f->hann[i] * bands->taper[m];
        weight += w * w;
        const double complex z = f->hann[i] * bands->z[order][m];
        f->part[i] = phase ? z * cexp(-I * (order * phase[m])) : z;
    }
    return weight;
}

static double complex frame_sum(const struct frames *f, double turn)
{
    const double c = cos(turn), s = -sin(turn);
    double re = 0.0, im = 0.0, rc = 1.0, rs = 0.0;
    for (size_t i = 0; i < 2 * f->step; i++) {
        const double x = creal(f->part[i]), y = cimag(f->part[i]);
        re += x * rc - y * rs;
        im += x * rs + y * rc;
        const double next = rc * c - rs * s;
        rs = rc * s + rs * c;
        rc = next;
    }
    return lds_complex(re, im);
}

/* |sum|^2 over its noise, summed over the orders; frames overlap by half, so with Hann's window two of them count as
 * 1.5. */
static void score_frames(struct frames *f)
{
    for (size_t n = 0; n < f->count; n++) {
        double *score = f->score + n * (size_t)f->states;
        memset(score, 0, (size_t)f->states * sizeof *score);
        for (int i = 0; i < f->path->orders; i++) {
            const int k = f->path->order[i];
            const double weight = load_frame(f, n, k, NULL);
            const double scale = weight > 0.0 ? 0.6 / (f->path->noise[k] * weight) : 0.0;
            for (int s = 0; s < f->states; s++) {
                const double complex v = frame_sum(f, 2.0 * M_PI * k * offset_of(f, s) / f->bands->rate_hz);
                score[s] += scale * (creal(v) * creal(v) + cimag(v) * cimag(v));
            }
        }
    }
}

/* Mains moves by some 15 mHz in a second and stays within some 25 mHz (common practice, no source). */
static void find_path(struct frames *f, double *offset_hz)
{
    const int states = f->states;
    const double sigma = 0.025 * (1.0 - exp(-f->hop_s / 2.0));
    const double cost = 0.5 * (f->state_hz / sigma) * (f->state_hz / sigma);
    for (size_t n = 1; n < f->count; n++)
        for (int s = 0; s < states; s++) {
            const double *before = f->score + (n - 1) * (size_t)states;
            double best = -INFINITY;
            for (int p = 0; p < states; p++) {
                const double way = before[p] - cost * (p - s) * (p - s);
                if (way > best) {
                    best = way;
                    f->from[n * (size_t)states + (size_t)s] = p;
                }
            }
            f->score[n * (size_t)states + (size_t)s] += best;
        }
    const double *last = f->score + (f->count - 1) * (size_t)states;
    int at = 0;
    for (int s = 1; s < states; s++)
        if (last[s] > last[at])
            at = s;
    for (size_t n = f->count; n-- > 0;) {
        offset_hz[n] = offset_of(f, at);
        at = f->from[n * (size_t)states + (size_t)at];
    }
}

/* Phase as the integral of the path, linear between frames. */
static void integrate(const struct frames *f, const double *offset_hz, double *phase)
{
    double sum = 0.0;
    for (size_t m = 0; m < f->bands->points; m++) {
        const double at = (double)m / (double)f->step;
        const size_t n = (size_t)at;
        const double u = at - (double)n;
        const double value =
            n + 1 < f->count ? (1.0 - u) * offset_hz[n] + u * offset_hz[n + 1] : offset_hz[f->count - 1];
        phase[m] = sum;
        sum += 2.0 * M_PI * value / f->bands->rate_hz;
    }
}

/* The phase step from one frame to the next that suits all orders best: the maximum of Re sum Z_k[n+1] conj Z_k[n]
 * exp(-j k step)/noise. The phases of the orders themselves cancel, and errors do not accumulate. */
static double best_step(const struct frames *f, const double complex *product, double reach)
{
    enum { HALF = 24 };
    double best = -INFINITY, at = 0.0;
    for (int s = -HALF; s <= HALF; s++) {
        const double step = reach * s / HALF;
        double sum = 0.0;
        for (int i = 0; i < f->path->orders; i++)
            sum += creal(product[i] * cexp(-I * (f->path->order[i] * step)));
        if (sum > best) {
            best = sum;
            at = step;
        }
    }
    return at;
}

static void step_phases(const struct frames *f, double *phase, double *correction)
{
    double complex before[LDS_MAINS_ORDERS + 1], product[LDS_MAINS_ORDERS + 1];
    const double reach = fmin(1.5, 2.0 * M_PI * f->hop_s * 3.0 * f->state_hz);
    correction[0] = 0.0;
    for (size_t n = 0; n < f->count; n++) {
        for (int i = 0; i < f->path->orders; i++) {
            const int k = f->path->order[i];
            load_frame(f, n, k, phase);
            const double complex v = frame_sum(f, 0.0);
            product[i] = n ? v * conj(before[i]) / f->path->noise[k] : 0.0;
            before[i] = v;
        }
        if (n)
            correction[n] = correction[n - 1] + best_step(f, product, reach);
    }
    for (size_t m = 0; m < f->bands->points; m++) {
        const double at = (double)m / (double)f->step;
        const size_t n = (size_t)at;
        const double u = at - (double)n;
        phase[m] += n + 1 < f->count ? (1.0 - u) * correction[n] + u * correction[n + 1] : correction[f->count - 1];
    }
}

bool lds_mains_path_find(const struct lds_mains_path *path, const struct lds_mains_bands *bands, double hop_s,
                         double *phase)
{
    struct frames f = {.bands = bands, .path = path};
    f.step = (size_t)fmax(2.0, round(hop_s * bands->rate_hz));
    f.hop_s = (double)f.step / bands->rate_hz;
    f.count = bands->inside / f.step + 1;
    int highest = 1;
    for (int i = 0; i < path->orders; i++)
        highest = path->order[i] > highest ? path->order[i] : highest;
    f.state_hz = fmax(2.0 * RANGE_HZ / (STATES_MAX - 1), fmin(0.004, 1.0 / (12.0 * f.hop_s * highest)));
    f.states = 2 * (int)ceil(RANGE_HZ / f.state_hz) + 1;
    f.score = malloc(f.count * (size_t)f.states * sizeof *f.score);
    f.from = calloc(f.count * (size_t)f.states, sizeof *f.from);
    double *offset_hz = calloc(f.count, sizeof *offset_hz);
    f.hann = malloc(2 * f.step * sizeof *f.hann);
    f.part = malloc(2 * f.step * sizeof *f.part);
    const bool memory = f.score && f.from && offset_hz && f.hann && f.part;
    if (memory) {
        for (size_t i = 0; i < 2 * f.step; i++)
            f.hann[i] = 0.5 - 0.5 * cos(M_PI * (double)i / (double)f.step);
        score_frames(&f);
        find_path(&f, offset_hz);
        integrate(&f, offset_hz, phase);
        step_phases(&f, phase, offset_hz);
    }
    free(f.score);
    free(f.from);
    free(offset_hz);
    free(f.hann);
    free(f.part);
    return memory;
}

/* sum |Z_k(f)|^2 over its noise, over the whole segment. */
static double whole(const struct lds_mains_path *path, const struct lds_mains_bands *bands, double offset_hz)
{
    double sum = 0.0;
    for (int i = 0; i < path->orders; i++) {
        const int k = path->order[i];
        const double complex advance = cexp(-I * (2.0 * M_PI * k * offset_hz / bands->rate_hz));
        double complex rotor = 1.0, v = 0.0;
        for (size_t m = 0; m < bands->inside; m++, rotor *= advance)
            v += rotor * bands->z[k][m];
        sum += (creal(v) * creal(v) + cimag(v) * cimag(v)) / path->noise[k];
    }
    return sum;
}

void lds_mains_path_constant(const struct lds_mains_path *path, const struct lds_mains_bands *bands, double reach_hz,
                             double *phase)
{
    int highest = 1;
    for (int i = 0; i < path->orders; i++)
        highest = path->order[i] > highest ? path->order[i] : highest;
    const double seconds = (double)bands->inside / bands->rate_hz;
    double centre = 0.0, step = 1.0 / (6.0 * seconds * highest);
    int half = (int)fmin(200.0, ceil(reach_hz / step));
    for (int pass = 0; pass < 4; pass++) {
        double best = -INFINITY, at = centre;
        for (int s = -half; s <= half; s++) {
            const double value = whole(path, bands, centre + s * step);
            if (value > best) {
                best = value;
                at = centre + s * step;
            }
        }
        centre = at;
        half = 5;
        step /= 5.0;
    }
    for (size_t m = 0; m < bands->points; m++)
        phase[m] = 2.0 * M_PI * centre * lds_mains_point_time(bands, m) / bands->rate_hz;
}
