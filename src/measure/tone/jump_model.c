#include "measure/tone/jump_model.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "constants.h"
#include "spectrum/simd.h"

enum {
    WAVES = LDS_JUMP_WAVES,
    WIDTH = LDS_JUMP_WIDTH,
    COLUMNS = LDS_JUMP_COLUMNS,
    TONE = 2, /* the column of its cosine */
    EVERY = 64
};

/* ---- sums over rows ---- */

/* Adds rows from..end-1 to the sums of the first `waves` waves. */
LDS_HOT static void add_rows(const double (*row)[WIDTH], const size_t *wave, size_t waves, size_t from, size_t end,
                             struct lds_jump_sums *restrict sums)
{
    for (size_t i = from; i < end; i++)
        for (size_t b = 0; b < waves; b++) {
            double w = row[i][wave[b]];
            for (size_t k = 0; k < WIDTH; k++)
                sums->of[b][k] += w * row[i][k];
        }
}

/* Products of all columns of the base with each other and with the stretch. */
LDS_HOT static void add_squares(const double (*row)[WIDTH], size_t n, double (*restrict square)[WIDTH])
{
    for (size_t i = 0; i < n; i++)
        for (size_t a = 0; a < LDS_JUMP_BASE; a++)
            for (size_t k = 0; k < WIDTH; k++)
                square[a][k] += row[i][a] * row[i][k];
}

/* The residual of rows from..end-1, which all have these weights. Returns the sum of its squares. */
LDS_HOT static double take_off(double (*row)[WIDTH], size_t from, size_t end, const double *weight)
{
    double square = 0.0;
    for (size_t i = from; i < end; i++) {
        lds_four sum = {0};
        for (size_t v = 0; v < WIDTH / 4; v++)
            sum += ((const lds_four *)row[i])[v] * ((const lds_four *)weight)[v];
        double rest = (sum[0] + sum[2]) + (sum[1] + sum[3]);
        row[i][LDS_JUMP_RESIDUAL] = rest;
        square += rest * rest;
    }
    return square;
}

_Static_assert(WIDTH % 4 == 0, "a row is whole groups of four");

static void sums_from(const struct lds_jump_model *m, size_t place, struct lds_jump_sums *sums)
{
    size_t next = (place + EVERY - 1) / EVERY, end = next * EVERY < m->n ? next * EVERY : m->n;
    *sums = m->every[next];
    add_rows(m->row, m->wave, m->waves, place, end, sums);
}

/* ---- least squares ---- */

/* Forward substitution of columns from..to-1 of y, which has `columns` columns. */
LDS_HOT static void forward(const double (*factor)[COLUMNS], size_t from, size_t to, size_t columns, double *restrict y)
{
    for (size_t k = from; k < to; k++) {
        y[k] /= factor[k][k];
        for (size_t i = k + 1; i < columns; i++)
            y[i] -= factor[k][i] * y[k];
    }
}

static void backward(const struct lds_jump_model *m, double *y)
{
    for (size_t i = m->columns; i-- > 0;) {
        for (size_t k = i + 1; k < m->columns; k++)
            y[i] -= m->factor[i][k] * y[k];
        y[i] /= m->factor[i][i];
    }
}

/* Cholesky; a column that depends on the ones before it gets no weight. The base's part was taken off the products of
 * the jumps' columns when these were appended. */
static void factorise(struct lds_jump_model *m, size_t first)
{
    size_t from = first < m->base ? 0 : m->base;
    for (size_t i = first; i < m->columns; i++) {
        double y[COLUMNS], sum = m->gram[i][i];
        memcpy(y, m->gram[i], i * sizeof *y);
        forward(m->factor, from, i, i, y);
        for (size_t k = from; k < i; k++) {
            m->factor[k][i] = y[k];
            sum -= y[k] * y[k];
        }
        m->factor[i][i] = sum > 1e-11 * m->square[i] ? sqrt(sum) : INFINITY;
    }
}

/* Takes the base's part off the products of a new column. */
static void take_base_off(struct lds_jump_model *m, size_t column)
{
    double *product = m->gram[column];
    m->square[column] = product[column];
    forward(m->factor, 0, m->base, column, product);
    for (size_t k = 0; k < m->base; k++) {
        m->factor[k][column] = product[k];
        product[column] -= product[k] * product[k];
    }
}

void lds_jump_model_solve(struct lds_jump_model *m)
{
    memcpy(m->weight, m->product, sizeof m->weight);
    forward(m->factor, 0, m->columns, m->columns, m->weight);
    backward(m, m->weight);
    double square = 0.0;
    for (size_t i = 0, end; i < m->n; i = end) { /* from one jump to the next */
        double minus[WIDTH] = {[LDS_JUMP_SAMPLE] = 1.0};
        end = m->n;
        for (size_t k = 0; k < m->base; k++)
            minus[k] = -m->weight[k];
        for (size_t j = 0; j < m->jumps; j++) {
            for (size_t b = 0; b < m->waves && m->at[j] <= i; b++)
                minus[m->wave[b]] -= m->weight[m->base + j * m->waves + b];
            if (m->at[j] > i && m->at[j] < end)
                end = m->at[j];
        }
        square += take_off(m->row, i, end, minus);
    }
    m->variance = square / (double)(m->n - m->columns);
}

/* ---- columns ---- */

static void add_wave(struct lds_jump_model *m, double frequency_hz, int bend)
{
    size_t c = m->base++, s = m->base++;
    double complex turn = cexp(2.0 * M_PI * I * frequency_hz / m->stretch->rate_hz), now = 1.0;
    for (size_t i = 0; i < m->n; i++) {
        if (i % 256 == 0)
            now = cexp(2.0 * M_PI * I * fmod(frequency_hz / m->stretch->rate_hz * (double)i, 1.0));
        double t = 2.0 * (double)i / (double)m->n - 1.0, w = bend == 0 ? 1.0 : bend == 1 ? t : t * t;
        m->row[i][c] = w * creal(now);
        m->row[i][s] = w * cimag(now);
        now *= turn;
    }
}

/* Whether a frequency is far enough from the tone and its harmonics to be fitted in so short a stretch. Hum that is not
 * is absorbed by them. */
static bool apart(const struct lds_jump_model *m, double hz)
{
    double least_hz = 1.5 * m->stretch->rate_hz / (double)m->n;
    for (int k = 0; k <= m->orders; k++)
        if (fabs(k * m->tone_hz - hz) < least_hz)
            return false;
    return true;
}

static void add_base(struct lds_jump_model *m)
{
    m->base = TONE;
    m->waves = 0;
    for (size_t i = 0; i < m->n; i++) {
        memset(m->row[i], 0, sizeof m->row[i]);
        m->row[i][0] = 1.0;
        m->row[i][1] = 2.0 * (double)i / (double)m->n - 1.0;
        m->row[i][LDS_JUMP_SAMPLE] = m->stretch->x[i];
    }
    for (int bend = 0; bend < LDS_JUMP_BENDS; bend++)
        add_wave(m, m->tone_hz, bend);
    for (int k = 1; k <= m->orders; k++) {
        size_t column = k == 1 ? TONE : m->base;
        if (k > 1)
            add_wave(m, k * m->tone_hz, 0);
        for (size_t part = 0; part < 2 && m->waves < WAVES; part++)
            m->wave[m->waves++] = column + part;
    }
    for (int k = 1; k <= LDS_JUMP_HUM && m->stretch->mains_hz > 0.0; k++)
        if (apart(m, k * m->stretch->mains_hz))
            add_wave(m, k * m->stretch->mains_hz, 0);
    m->columns = m->base;
}

static void multiply(struct lds_jump_model *m)
{
    double square[LDS_JUMP_BASE][WIDTH] = {{0}};
    add_squares(m->row, m->n, square);
    for (size_t i = 0; i < m->base; i++) {
        memcpy(m->gram[i], square[i], m->base * sizeof(double));
        m->square[i] = square[i][i];
        m->product[i] = square[i][LDS_JUMP_SAMPLE];
    }
    struct lds_jump_sums sums = {{{0}}};
    for (size_t next = (m->n + EVERY - 1) / EVERY, end = m->n;; end = next * EVERY) {
        m->every[next] = sums;
        if (next == 0)
            break;
        next--;
        add_rows(m->row, m->wave, m->waves, next * EVERY, end, &sums);
    }
}

void lds_jump_model_retune(struct lds_jump_model *m, double tone_hz)
{
    size_t jumps = m->jumps;
    m->tone_hz = tone_hz;
    m->jumps = 0;
    add_base(m);
    multiply(m);
    factorise(m, 0);
    for (size_t j = 0; j < jumps; j++)
        lds_jump_model_append(m, m->at[j]);
    lds_jump_model_solve(m);
}

/* ---- jumps ---- */

/* Products of a wave that begins at `place`, whose sums from there on are known, with all columns. */
static void products(const struct lds_jump_model *m, size_t place, const struct lds_jump_sums *sums, size_t wave,
                     double *product)
{
    memcpy(product, sums->of[wave], m->base * sizeof *product);
    double *at = product + m->base;
    for (size_t j = 0; j < m->jumps; j++)
        for (size_t b = 0; b < m->waves; b++)
            *at++ = m->at[j] <= place ? sums->of[wave][m->wave[b]] : m->from[j].of[b][m->wave[wave]];
}

void lds_jump_model_append(struct lds_jump_model *m, size_t place)
{
    size_t first = m->columns, jump = m->jumps++;
    m->at[jump] = place;
    sums_from(m, place, &m->from[jump]);
    m->columns += m->waves;
    for (size_t b = 0; b < m->waves; b++) {
        products(m, place, &m->from[jump], b, m->gram[first + b]);
        take_base_off(m, first + b);
        m->product[first + b] = m->from[jump].of[b][LDS_JUMP_SAMPLE];
    }
    factorise(m, first);
}

void lds_jump_model_remove(struct lds_jump_model *m, size_t jump)
{
    size_t width = m->waves, first = m->base + jump * width, after = m->columns - first - width;
    size_t behind = m->jumps - jump - 1;
    memmove(m->product + first, m->product + first + width, after * sizeof *m->product);
    memmove(m->square + first, m->square + first + width, after * sizeof *m->square);
    for (size_t k = 0; k < m->base; k++)
        memmove(m->factor[k] + first, m->factor[k] + first + width, after * sizeof **m->factor);
    memmove(m->gram + first, m->gram + first + width, after * sizeof *m->gram);
    for (size_t i = first; i < first + after; i++)
        memmove(m->gram[i] + first, m->gram[i] + first + width, after * sizeof **m->gram);
    memmove(m->at + jump, m->at + jump + 1, behind * sizeof *m->at);
    memmove(m->from + jump, m->from + jump + 1, behind * sizeof *m->from);
    m->jumps--;
    m->columns -= width;
    factorise(m, first);
}

/* Four places at a time where one more jump might be: the products of the tone's cosine and sine from there on with the
 * columns, with each other, and with the residual. */
struct places {
    size_t count, at[4];
    lds_four c[COLUMNS], s[COLUMNS];
    double square[4][3], part[4][2];
};

/* The same as forward() for both waves at all four; two columns at once, which halves the stores. */
LDS_HOT static void forward_places(const double (*factor)[COLUMNS], size_t columns, struct places *restrict p)
{
    size_t k = 0;
    for (; k + 1 < columns; k += 2) {
        const double *one = factor[k], *two = factor[k + 1];
        lds_four c = p->c[k] /= one[k], s = p->s[k] /= one[k];
        lds_four c2 = p->c[k + 1] = (p->c[k + 1] - one[k + 1] * c) / two[k + 1];
        lds_four s2 = p->s[k + 1] = (p->s[k + 1] - one[k + 1] * s) / two[k + 1];
        for (size_t i = k + 2; i < columns; i++) {
            p->c[i] -= one[i] * c + two[i] * c2;
            p->s[i] -= one[i] * s + two[i] * s2;
        }
    }
    if (k < columns) {
        p->c[k] /= factor[k][k];
        p->s[k] /= factor[k][k];
    }
}

static void add_place(const struct lds_jump_model *m, size_t at, const struct lds_jump_sums *sums, struct places *p)
{
    size_t lane = p->count++;
    double c[COLUMNS], s[COLUMNS];
    products(m, at, sums, 0, c);
    products(m, at, sums, 1, s);
    for (size_t k = 0; k < m->columns; k++) {
        p->c[k][lane] = c[k];
        p->s[k][lane] = s[k];
    }
    p->at[lane] = at;
    memcpy(p->square[lane], (double[]){c[TONE], s[TONE], s[TONE + 1]}, sizeof p->square[lane]);
    for (size_t b = 0; b < 2; b++)
        p->part[lane][b] = sums->of[b][LDS_JUMP_RESIDUAL];
}

/* By how much the sum of squares falls with another jump of the tone at the place. */
static double gain(const struct lds_jump_model *m, const struct places *p, size_t lane)
{
    const double *square = p->square[lane], *part = p->part[lane];
    double cc = square[0], cs = square[1], ss = square[2];
    for (size_t k = 0; k < m->columns; k++) {
        double c = p->c[k][lane], s = p->s[k][lane];
        cc -= c * c;
        cs -= c * s;
        ss -= s * s;
    }
    double det = cc * ss - cs * cs;
    if (!(det > 1e-9 * square[0] * square[2]))
        return 0.0;
    return (part[0] * part[0] * ss - 2.0 * part[0] * part[1] * cs + part[1] * part[1] * cc) / det;
}

size_t lds_jump_model_best(const struct lds_jump_model *m, size_t first, size_t last, size_t grid, double *most)
{
    struct lds_jump_sums sums;
    sums_from(m, last, &sums);
    for (size_t b = 0; b < 2; b++) { /* the kept sums are older than the residual */
        sums.of[b][LDS_JUMP_RESIDUAL] = 0.0;
        for (size_t i = last; i < m->n; i++)
            sums.of[b][LDS_JUMP_RESIDUAL] += m->row[i][LDS_JUMP_RESIDUAL] * m->row[i][TONE + b];
    }
    size_t best = first;
    struct places places = {0};
    *most = 0.0;
    for (size_t here = last;;) {
        add_place(m, here, &sums, &places);
        if (places.count == 4 || here <= first) {
            forward_places(m->factor, m->columns, &places);
            for (size_t lane = 0; lane < places.count; lane++) {
                double explained = gain(m, &places, lane);
                best = explained > *most ? places.at[lane] : best;
                *most = fmax(*most, explained);
            }
            places.count = 0;
        }
        if (here <= first)
            return best;
        size_t next = here - first > grid ? here - grid : first;
        add_rows(m->row, m->wave, 2, next, here, &sums);
        here = next;
    }
}

/* ---- what the fit says ---- */

double complex lds_jump_model_turn(const struct lds_jump_model *m, size_t jump)
{
    const double *weight = m->weight + m->base + jump * m->waves;
    return weight[0] - I * weight[1];
}

double lds_jump_model_variance(const struct lds_jump_model *m, size_t jump)
{
    double sum = 0.0;
    for (size_t part = 0; part < 2; part++) {
        double y[COLUMNS] = {0};
        y[m->base + jump * m->waves + part] = 1.0;
        forward(m->factor, 0, m->columns, m->columns, y);
        for (size_t k = 0; k < m->columns; k++)
            sum += y[k] * y[k];
    }
    return 0.5 * sum * m->variance;
}

double lds_jump_model_about_tone(const struct lds_jump_model *m, double *noise)
{
    enum { BLOCKS = 32 };
    size_t length = m->n / BLOCKS;
    double found = 0.0;
    *noise = 0.0;
    for (size_t b = 0; b < BLOCKS; b++)
        for (size_t k = TONE; k < TONE + 2; k++) {
            double sum = 0.0, square = 0.0;
            for (size_t i = b * length; i < (b + 1) * length; i++) {
                sum += m->row[i][LDS_JUMP_RESIDUAL] * m->row[i][k];
                square += m->row[i][k] * m->row[i][k];
            }
            found += sum * sum;
            *noise += m->variance * square;
        }
    return found;
}

bool lds_jump_model_make(struct lds_jump_model *m, const struct lds_stretch *stretch)
{
    memset(m, 0, sizeof *m);
    m->stretch = stretch;
    m->n = stretch->n;
    m->row = malloc(m->n * sizeof *m->row);
    m->every = malloc((m->n / EVERY + 2) * sizeof *m->every);
    if (!m->row || !m->every)
        return false;
    m->orders = 1;
    while (m->orders < LDS_JUMP_HARMONICS && (m->orders + 1) * stretch->tone_hz < LDS_USABLE_SHARE * stretch->rate_hz)
        m->orders++;
    lds_jump_model_retune(m, stretch->tone_hz);
    return true;
}

void lds_jump_model_free(struct lds_jump_model *m)
{
    free(m->row);
    free(m->every);
}
