#include "measure/tone/jump_fit.h"

#include <complex.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "constants.h"
#include "spectrum/simd.h"

/* The model: the tone throughout the stretch (its amplitude and phase bend as a parabola), its harmonics, hum and an
 * offset; and for each jump, from there on, another tone with harmonics. */
enum {
    BENDS = 3,
    HARMONICS = 5, /* orders 2 to this */
    HUM = 3,
    TURNED = 3, /* orders whose phase a jump changes, beginning with the tone */
    JUMP_COLUMNS = 2 * TURNED,
    BASE_MAX = 2 + 2 * BENDS + 2 * (HARMONICS - 1) + 2 * HUM,
    COLUMNS_MAX = BASE_MAX + LDS_JUMP_FITS * JUMP_COLUMNS,
    SWEEPS = 3,
    NEARER = 3
};
static const double COARSE_S = 1e-3, NEAR_S = 0.02;
static const double EDGE = 0.02;  /* of the stretch at each end: no jumps are searched there */
static const double MARGIN = 0.1; /* of the stretch at each end: a jump here cannot be told from a bend, so it is fitted
                                   * but not reported */
static const double ENOUGH = 30.0; /* gain over the noise's variance: below the limit for a jump, since one of two jumps
                                    * may explain little by itself */
static const double OFF_RAD = 0.003;
static const double WHITE = 2.0; /* how much stronger the residual about the tone may be than elsewhere, from 64 values:
                                  * 1 + 5 sqrt(2/64) */
static const double SIGMAS = 7.0;
static const double TOGETHER_S = 0.002;
static const double SMALL = 0.01; /* of the largest jump of the stretch: smaller ones are remains of that jump, which
                                   * the model does not fit exactly */

struct model {
    const struct lds_stretch *stretch;
    size_t n, base, columns;
    double *column[COLUMNS_MAX], *residual, *room;
    double gram[COLUMNS_MAX][COLUMNS_MAX];
    double factor[COLUMNS_MAX][COLUMNS_MAX]; /* lower triangle */
    double product[COLUMNS_MAX], weight[COLUMNS_MAX];
    double variance; /* of the residual */
    double tone_hz;
    size_t jumps, at[LDS_JUMP_FITS];
    int orders, turned;
};

LDS_HOT static double dot(const double *restrict a, const double *restrict b, size_t n)
{
    lds_four sum[2] = {{0}};
    size_t i = 0;
    for (; i + 8 <= n; i += 8)
        for (size_t v = 0; v < 2; v++)
            sum[v] += ((const lds_four *)(a + i))[v] * ((const lds_four *)(b + i))[v];
    for (; i < n; i++)
        sum[0][0] += a[i] * b[i];
    sum[0] += sum[1];
    return (sum[0][0] + sum[0][2]) + (sum[0][1] + sum[0][3]);
}

/* Gram matrix and products of the columns from `first` on. */
static void multiply(struct model *m, size_t first)
{
    for (size_t i = first; i < m->columns; i++) {
        for (size_t k = 0; k <= i; k++)
            m->gram[k][i] = m->gram[i][k] = dot(m->column[i], m->column[k], m->n);
        m->product[i] = dot(m->column[i], m->stretch->x, m->n);
    }
}

/* Cholesky; a column that depends on the ones before it gets no weight. */
static void factorise(struct model *m, size_t first)
{
    for (size_t i = first; i < m->columns; i++) {
        for (size_t k = 0; k <= i; k++) {
            double sum = m->gram[i][k];
            for (size_t l = 0; l < k; l++)
                sum -= m->factor[i][l] * m->factor[k][l];
            if (k < i)
                m->factor[i][k] = sum / m->factor[k][k];
            else
                m->factor[i][i] = sum > 1e-11 * m->gram[i][i] ? sqrt(sum) : INFINITY;
        }
    }
}

static void forward(const struct model *m, double *y)
{
    for (size_t i = 0; i < m->columns; i++) {
        for (size_t k = 0; k < i; k++)
            y[i] -= m->factor[i][k] * y[k];
        y[i] /= m->factor[i][i];
    }
}

static void backward(const struct model *m, double *y)
{
    for (size_t i = m->columns; i-- > 0;) {
        for (size_t k = i + 1; k < m->columns; k++)
            y[i] -= m->factor[k][i] * y[k];
        y[i] /= m->factor[i][i];
    }
}

static void solve(struct model *m)
{
    memcpy(m->weight, m->product, sizeof m->weight);
    forward(m, m->weight);
    backward(m, m->weight);
    memcpy(m->residual, m->stretch->x, m->n * sizeof *m->residual);
    for (size_t k = 0; k < m->columns; k++)
        for (size_t i = 0; i < m->n; i++)
            m->residual[i] -= m->weight[k] * m->column[k][i];
    m->variance = dot(m->residual, m->residual, m->n) / (double)(m->n - m->columns);
}

static void fit(struct model *m, size_t first_new)
{
    multiply(m, first_new);
    factorise(m, first_new);
    solve(m);
}

/* ---- columns ---- */

static void add_wave(struct model *m, double frequency_hz, int bend, size_t from)
{
    double *c = m->column[m->columns++], *s = m->column[m->columns++];
    double complex turn = cexp(2.0 * M_PI * I * frequency_hz / m->stretch->rate_hz), now = 1.0;
    memset(c, 0, from * sizeof *c);
    memset(s, 0, from * sizeof *s);
    for (size_t i = from; i < m->n; i++) {
        if ((i - from) % 256 == 0)
            now = cexp(2.0 * M_PI * I * fmod(frequency_hz / m->stretch->rate_hz * (double)i, 1.0));
        double t = 2.0 * (double)i / (double)m->n - 1.0, w = bend == 0 ? 1.0 : bend == 1 ? t : t * t;
        c[i] = w * creal(now);
        s[i] = w * cimag(now);
        now *= turn;
    }
}

static void add_jump(struct model *m, size_t at)
{
    for (int k = 1; k <= m->turned; k++)
        add_wave(m, k * m->tone_hz, 0, at);
}

/* Hum too close to the tone or a harmonic for so short a stretch is left to those. */
static bool apart(const struct model *m, double hz)
{
    double least_hz = 1.5 * m->stretch->rate_hz / (double)m->n;
    for (int k = 0; k <= m->orders; k++)
        if (fabs(k * m->tone_hz - hz) < least_hz)
            return false;
    return true;
}

static void add_base(struct model *m)
{
    double *one = m->column[m->columns++], *slope = m->column[m->columns++];
    for (size_t i = 0; i < m->n; i++) {
        one[i] = 1.0;
        slope[i] = 2.0 * (double)i / (double)m->n - 1.0;
    }
    for (int bend = 0; bend < BENDS; bend++) /* columns 2 and 3 are the tone itself */
        add_wave(m, m->tone_hz, bend, 0);
    for (int k = 2; k <= m->orders; k++)
        add_wave(m, k * m->tone_hz, 0, 0);
    for (int k = 1; k <= HUM && m->stretch->mains_hz > 0.0; k++)
        if (apart(m, k * m->stretch->mains_hz))
            add_wave(m, k * m->stretch->mains_hz, 0, 0);
    m->base = m->columns;
}

/* ---- places ---- */

/* By how much the sum of squares falls with another jump of the tone at the place where the sums end. */
static double gain(const struct model *m, const double *with_c, const double *with_s, const double square[3],
                   const double part[2])
{
    double c[COLUMNS_MAX], s[COLUMNS_MAX];
    memcpy(c, with_c, m->columns * sizeof *c);
    memcpy(s, with_s, m->columns * sizeof *s);
    forward(m, c);
    forward(m, s);
    double cc = square[0], cs = square[1], ss = square[2];
    for (size_t k = 0; k < m->columns; k++) {
        cc -= c[k] * c[k];
        cs -= c[k] * s[k];
        ss -= s[k] * s[k];
    }
    double det = cc * ss - cs * cs;
    if (!(det > 1e-9 * square[0] * square[2]))
        return 0.0;
    return (part[0] * part[0] * ss - 2.0 * part[0] * part[1] * cs + part[1] * part[1] * cc) / det;
}

/* The place from `first` to `last` where one more jump explains the most; *most: how much. The sums of the columns
 * times the tone run backwards from the end. */
static size_t best_place(const struct model *m, size_t first, size_t last, size_t grid, double *most)
{
    double with_c[COLUMNS_MAX] = {0}, with_s[COLUMNS_MAX] = {0}, square[3] = {0}, part[2] = {0};
    size_t place = first;
    const double *c = m->column[2], *s = m->column[3];
    *most = 0.0;
    for (size_t end = m->n; end > first;) {
        size_t from = end > last ? last : end - first > grid ? end - grid : first, n = end - from;
        for (size_t k = 0; k < m->columns; k++) {
            with_c[k] += dot(m->column[k] + from, c + from, n);
            with_s[k] += dot(m->column[k] + from, s + from, n);
        }
        square[0] += dot(c + from, c + from, n);
        square[1] += dot(c + from, s + from, n);
        square[2] += dot(s + from, s + from, n);
        part[0] += dot(m->residual + from, c + from, n);
        part[1] += dot(m->residual + from, s + from, n);
        end = from;
        double here = gain(m, with_c, with_s, square, part);
        if (here > *most) {
            *most = here;
            place = end;
        }
    }
    return place;
}

/* Within `near` samples of `about`, coarsely and then finely. */
static size_t find_place(const struct model *m, size_t about, size_t near, double *most)
{
    size_t edge = (size_t)(EDGE * (double)m->n) + 1, fine = (size_t)(COARSE_S * m->stretch->rate_hz) + 1;
    size_t first = about > near + edge ? about - near : edge;
    size_t last = about + near + edge < m->n ? about + near : m->n - edge;
    size_t place = best_place(m, first, last, fine, most);
    first = place > first + fine ? place - fine : first;
    last = place + fine < last ? place + fine : last;
    return best_place(m, first, last, 1, most);
}

static void remove_jump(struct model *m, size_t j)
{
    size_t width = 2 * (size_t)m->turned, first = m->base + j * width, after = m->columns - first - width;
    double *spare[JUMP_COLUMNS];
    memcpy(spare, m->column + first, width * sizeof *spare);
    memmove(m->column + first, m->column + first + width, after * sizeof *m->column);
    memcpy(m->column + first + after, spare, width * sizeof *spare);
    memmove(m->product + first, m->product + first + width, after * sizeof *m->product);
    for (size_t i = 0; i < m->columns; i++)
        memmove(m->gram[i] + first, m->gram[i] + first + width, after * sizeof **m->gram);
    memmove(m->gram + first, m->gram + first + width, after * sizeof *m->gram);
    memmove(m->at + j, m->at + j + 1, (m->jumps - j - 1) * sizeof *m->at);
    m->jumps--;
    m->columns -= width;
    factorise(m, first);
    solve(m);
}

static void append_jump(struct model *m, size_t place)
{
    size_t first = m->columns;
    m->at[m->jumps++] = place;
    add_jump(m, place);
    fit(m, first);
}

/* Moves each jump in turn to where it explains the most besides the others, until none moves. */
static void settle(struct model *m)
{
    bool moved = true;
    for (int sweep = 0; moved && sweep < SWEEPS; sweep++) {
        moved = false;
        for (size_t j = 0; j < m->jumps; j++) {
            double most;
            size_t was = m->at[0];
            remove_jump(m, 0);
            append_jump(m, find_place(m, was, (size_t)(NEAR_S * m->stretch->rate_hz), &most));
            moved = moved || m->at[m->jumps - 1] != was;
        }
    }
}

static void search(struct model *m)
{
    while (m->jumps < LDS_JUMP_FITS) {
        double most;
        size_t place = find_place(m, m->n / 2, m->n, &most);
        if (!(most > ENOUGH * m->variance))
            return;
        append_jump(m, place);
        settle(m);
    }
}

/* ---- judgement ---- */

struct turn {
    double phase_rad, ratio, u_rad;
};

static double complex tone_at(const struct model *m, size_t sample, size_t jumps_before)
{
    double t = 2.0 * (double)sample / (double)m->n - 1.0;
    double complex a = 0.0;
    for (int bend = 0; bend < BENDS; bend++)
        a += (m->weight[2 + 2 * bend] - I * m->weight[3 + 2 * bend]) * (bend == 0 ? 1.0 : bend == 1 ? t : t * t);
    for (size_t j = 0; j < jumps_before; j++)
        a += m->weight[m->base + j * 2 * (size_t)m->turned] - I * m->weight[m->base + j * 2 * (size_t)m->turned + 1];
    return a;
}

static double column_variance(const struct model *m, size_t column)
{
    double y[COLUMNS_MAX] = {0};
    y[column] = 1.0;
    forward(m, y);
    double sum = 0.0;
    for (size_t k = 0; k < m->columns; k++)
        sum += y[k] * y[k];
    return sum * m->variance;
}

/* m->at must be in order of time. */
static struct turn turn_of(const struct model *m, size_t j, double colour)
{
    size_t column = m->base + j * 2 * (size_t)m->turned;
    double complex before = tone_at(m, m->at[j], j), after = tone_at(m, m->at[j], j + 1);
    double variance = colour * 0.5 * (column_variance(m, column) + column_variance(m, column + 1));
    return (struct turn){carg(after / before), cabs(after) / cabs(before), sqrt(variance) / cabs(before)};
}

static bool is_jump(const struct model *m, const struct turn *turn, double largest)
{
    double size = fabs(turn->phase_rad);
    double allowed = fmin(0.5, 0.5 * size + 5.0 * turn->u_rad);
    return size >= SIGMAS * turn->u_rad && size >= m->stretch->least_rad && size >= SMALL * largest &&
           fabs(log(turn->ratio)) <= allowed;
}

static void put_in_order(struct model *m)
{
    for (size_t sorted = 0; sorted < m->jumps; sorted++) {
        size_t first = 0; /* earliest of those not yet moved to the end */
        for (size_t j = 1; j < m->jumps - sorted; j++)
            if (m->at[j] < m->at[first])
                first = j;
        size_t place = m->at[first];
        remove_jump(m, first);
        append_jump(m, place);
    }
}

/* Power of the residual about the tone; *noise: what white noise would give. Hum beside the tone, or a tone that moves
 * in a way the model does not follow, makes it larger. */
static double about_tone(const struct model *m, double *noise)
{
    enum { BLOCKS = 32 };
    size_t length = m->n / BLOCKS;
    double found = 0.0;
    *noise = 0.0;
    for (size_t b = 0; b < BLOCKS; b++)
        for (size_t k = 2; k < 4; k++) {
            const double *wave = m->column[k] + b * length;
            double sum = dot(m->residual + b * length, wave, length);
            found += sum * sum;
            *noise += m->variance * dot(wave, wave, length);
        }
    return found;
}

/* How much stronger it is than white noise; at least 1. */
static double colour_of(const struct model *m)
{
    double noise, found = about_tone(m, &noise);
    return found > noise ? found / noise : 1.0;
}

static bool is_explained(const struct model *m, double without_jumps)
{
    double noise, found = about_tone(m, &noise), explained = m->stretch->explained;
    return explained <= 0.0 || found < WHITE * noise || found * explained < without_jumps;
}

/* Removes what is not a jump, smallest first, until only jumps are left. */
static void judge(struct model *m, struct turn *turn)
{
    while (m->jumps > 0) {
        put_in_order(m);
        double colour = colour_of(m);
        double largest = 0.0, least = INFINITY;
        size_t worst = m->jumps, close = m->jumps;
        for (size_t j = 0; j < m->jumps; j++) {
            turn[j] = turn_of(m, j, colour);
            largest = fmax(largest, fabs(turn[j].phase_rad));
            if (j > 0 && (double)(m->at[j] - m->at[j - 1]) < TOGETHER_S * m->stretch->rate_hz)
                close = fabs(turn[j].phase_rad) < fabs(turn[j - 1].phase_rad) ? j : j - 1;
        }
        for (size_t j = 0; j < m->jumps; j++)
            if (!is_jump(m, &turn[j], largest) && fabs(turn[j].phase_rad) < least) {
                least = fabs(turn[j].phase_rad);
                worst = j;
            }
        if (close < m->jumps)
            worst = close;
        if (worst == m->jumps)
            return;
        remove_jump(m, worst);
        settle(m);
    }
}

/* Phase by which the fitted tone turns from the middle of the stretch to its end. */
static double turned_off(const struct model *m)
{
    double complex level = m->weight[2] - I * m->weight[3], slope = m->weight[4] - I * m->weight[5];
    for (size_t j = 0; j < m->jumps; j++)
        if (m->at[j] < m->n / 2)
            level +=
                m->weight[m->base + j * 2 * (size_t)m->turned] - I * m->weight[m->base + j * 2 * (size_t)m->turned + 1];
    return cimag(slope / level);
}

/* A parabola follows a tone of another frequency only for a short way. So once that frequency is known the fit is
 * repeated, with the jumps where they are. */
static void fit_nearer(struct model *m)
{
    for (int turn = 0; turn < NEARER; turn++) {
        double off = turned_off(m);
        if (!(fabs(off) > OFF_RAD) || !(fabs(off) < 1.0))
            return;
        m->tone_hz += off * m->stretch->rate_hz / (M_PI * (double)m->n);
        m->columns = 0;
        add_base(m);
        for (size_t j = 0; j < m->jumps; j++)
            add_jump(m, m->at[j]);
        fit(m, 0);
        settle(m);
        search(m);
    }
}

static bool prepare(struct model *m, const struct lds_stretch *stretch)
{
    m->stretch = stretch;
    m->n = stretch->n;
    m->tone_hz = stretch->tone_hz;
    m->room = malloc((COLUMNS_MAX + 1) * m->n * sizeof *m->room);
    if (!m->room)
        return false;
    for (size_t k = 0; k < COLUMNS_MAX; k++)
        m->column[k] = m->room + k * m->n;
    m->residual = m->room + COLUMNS_MAX * m->n;
    m->orders = 1;
    while (m->orders < HARMONICS && (m->orders + 1) * m->tone_hz < LDS_USABLE_SHARE * stretch->rate_hz)
        m->orders++;
    m->turned = m->orders < TURNED ? m->orders : TURNED;
    return true;
}

bool lds_jump_fit(const struct lds_stretch *stretch, struct lds_jump_fit *jump, size_t *jumps)
{
    *jumps = 0;
    if (stretch->n < 4 * COLUMNS_MAX)
        return true;
    struct model *m = calloc(1, sizeof *m);
    if (!m || !prepare(m, stretch)) {
        free(m);
        return false;
    }
    struct turn turn[LDS_JUMP_FITS];
    add_base(m);
    fit(m, 0);
    double noise, without_jumps = about_tone(m, &noise);
    search(m);
    fit_nearer(m);
    judge(m, turn);
    double margin = MARGIN * (double)m->n;
    bool told = is_explained(m, without_jumps);
    for (size_t j = 0; told && j < m->jumps; j++)
        if ((double)m->at[j] > margin && (double)m->at[j] < (double)m->n - margin)
            jump[(*jumps)++] = (struct lds_jump_fit){m->at[j], turn[j].phase_rad, turn[j].u_rad};
    free(m->room);
    free(m);
    return true;
}
