#include "measure/impedance/switching.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "measure/statistics/median.h"
#include "scarce.h"

enum {
    COARSE = 1200 /* points of the first search, whose time grows with their square */,
    FEWEST = 16,
    REACH = 4 /* half a frame */,
    SHAPES = 4
};
static const double SHORTEST_S = 0.5, SHORTEST_SHARE = 0.03; /* of a stretch */
static const double TAIL = 0.02;  /* share of the frames on each side that may be bounce, or the edge of silence */
static const double EDGE_S = 0.1; /* left out on both sides of a switching, besides the frames across it */
static const double BOUNCE_SIGMA = 8.0, BOUNCE_STEP = 0.05; /* of the scatter, of the step: farther off is bounce */
static const double LEAST_CHANGE = 1e-7;                    /* of the logarithm of the level: below it is rounding */
static const double NORMAL = 1.4826; /* standard deviation of a normal distribution over the median of its magnitude */
static const double MOST_BOUNCE = 0.35; /* of a stretch */

/* Levels as points of weight 1, or 0 where the tone is missing. Drift is a polynomial of the third degree. The sums are
 * over all points before each one. */
struct line {
    size_t count;
    double *weight, *rest; /* of each point; its level, less the polynomial once that is taken out */
    double *shape[SHAPES]; /* polynomials of rising degree, orthonormal over the points */
    double *sum_weight, *sum_rest, *sum_shape[SHAPES]; /* count + 1 */
};

static bool line_open(struct line *line, size_t count)
{
    double *room = calloc((size_t)(4 + 2 * SHAPES) * (count + 1), sizeof *room);
    *line = (struct line){.count = count, .weight = room};
    if (!room)
        return false;
    line->rest = room += count + 1;
    line->sum_weight = room += count + 1;
    line->sum_rest = room += count + 1;
    for (size_t m = 0; m < SHAPES; m++) {
        line->shape[m] = room += count + 1;
        line->sum_shape[m] = room += count + 1;
    }
    return true;
}

static void line_close(struct line *line)
{
    free(line->weight);
}

/* Takes the component along a shape out of x. */
static void take_out(const struct line *line, const double *shape, double *x)
{
    double product = 0.0;
    for (size_t i = 0; i < line->count; i++)
        product += line->weight[i] * shape[i] * x[i];
    for (size_t i = 0; i < line->count; i++)
        x[i] -= product * shape[i];
}

/* Gram-Schmidt orthogonalisation, done twice, after which rounding errors are too small to matter. */
static void make_shapes(struct line *line)
{
    for (size_t m = 0; m < SHAPES; m++) {
        double *x = line->shape[m], square = 0.0;
        for (size_t i = 0; i < line->count; i++)
            x[i] = pow(2.0 * (double)i / (double)line->count - 1.0, (double)m);
        for (size_t k = 0; k < 2 * m; k++)
            take_out(line, line->shape[k % m], x);
        for (size_t i = 0; i < line->count; i++)
            square += line->weight[i] * x[i] * x[i];
        for (size_t i = 0; i < line->count; i++)
            x[i] /= sqrt(square);
    }
}

/* Subtracts the polynomial from `rest`, which holds the levels, and makes the sums. */
static void prepare(struct line *line)
{
    make_shapes(line);
    for (size_t m = 0; m < SHAPES; m++)
        take_out(line, line->shape[m], line->rest);
    for (size_t i = 0; i < line->count; i++) {
        const double weight = line->weight[i];
        line->sum_weight[i + 1] = line->sum_weight[i] + weight;
        line->sum_rest[i + 1] = line->sum_rest[i] + weight * line->rest[i];
        for (size_t m = 0; m < SHAPES; m++)
            line->sum_shape[m][i + 1] = line->sum_shape[m][i] + weight * line->shape[m][i];
    }
}

/* By how much the sum of squares falls when the points from i to j - 1 may have a level of their own: the projection of
 * what the polynomial leaves on the part of the points' indicator function that no polynomial explains. */
static double gain(const struct line *line, size_t i, size_t j)
{
    const double w = line->sum_weight[j] - line->sum_weight[i], r = line->sum_rest[j] - line->sum_rest[i];
    double own = w;
    for (size_t m = 0; m < SHAPES; m++) {
        const double share = line->sum_shape[m][j] - line->sum_shape[m][i];
        own -= share * share;
    }
    return own > 1e-6 * w ? r * r / own : 0.0;
}

/* Whether the points from i to j - 1 hold enough of the tone. */
static bool is_long(const struct line *line, size_t i, size_t j, double least)
{
    return line->sum_weight[j] - line->sum_weight[i] >= least;
}

struct best {
    size_t first, last; /* of the points with a level of their own, the last not included */
    double twice, once; /* the gains with two steps and with one */
    size_t step;        /* where that one is */
};

static void search(const struct line *line, double least, struct best *best)
{
    *best = (struct best){0};
    for (size_t i = 0; i < line->count; i++) {
        if (!is_long(line, 0, i, least))
            continue;
        for (size_t j = i + 1; j < line->count; j++) {
            if (!is_long(line, i, j, least))
                continue;
            if (!is_long(line, j, line->count, least))
                break;
            const double one = gain(line, i, j);
            if (one > best->twice) {
                best->twice = one;
                best->first = i;
                best->last = j;
            }
        }
        const double one = is_long(line, i, line->count, least) ? gain(line, i, line->count) : 0.0;
        if (one > best->once) {
            best->once = one;
            best->step = i;
        }
    }
}

/* Refines one edge after the other, with every frame as a point. */
static void refine(const struct line *line, size_t reach, struct best *best)
{
    for (int round = 0; round < 2; round++) {
        size_t edge = best->first;
        for (size_t i = edge > reach ? edge - reach : 1; i <= edge + reach && i < best->last; i++)
            if (gain(line, i, best->last) > gain(line, best->first, best->last))
                best->first = i;
        edge = best->last;
        for (size_t j = edge > best->first + reach ? edge - reach : best->first + 1;
             j <= edge + reach && j < line->count; j++)
            if (gain(line, best->first, j) > gain(line, best->first, best->last))
                best->last = j;
    }
}

/* Contact bounce and the edges of silence give a few levels far from all others: these are limited to the range of most
 * frames. */
static bool draw_in(struct line *line)
{
    double *sorted = malloc((line->count + 1) * sizeof *sorted);
    size_t n = 0;
    if (!sorted)
        return false;
    for (size_t i = 0; i < line->count; i++)
        if (line->weight[i] > 0.0)
            sorted[n++] = line->rest[i];
    if (n > FEWEST) {
        const size_t tail = (size_t)(TAIL * (double)n);
        const double high = lds_smallest(sorted, n, n - 1 - tail), low = lds_smallest(sorted, n, tail);
        const double spare = 0.25 * (high - low);
        for (size_t i = 0; i < line->count; i++)
            line->rest[i] = fmin(fmax(line->rest[i], low - spare), high + spare);
    }
    free(sorted);
    return true;
}

/* Frames around which the level changes by far more than elsewhere, over half a frame on each side, say nothing about
 * the level with a load: they hold an edge or contact bounce. */
static bool leave_out_edges(const struct lds_phasors *p, struct line *line)
{
    double *change = malloc((p->count + 1) * sizeof *change), *sorted = malloc((p->count + 1) * sizeof *sorted);
    const bool memory = change && sorted;
    size_t n = 0;
    for (size_t i = 0; memory && i < p->count; i++) {
        const size_t before = i > REACH ? i - REACH : 0, after = i + REACH < p->count ? i + REACH : p->count - 1;
        change[i] = fabs(p->level[after] - p->level[before]);
        if (!isnan(change[i]))
            sorted[n++] = change[i];
    }
    const double most = n > 0 ? fmax(BOUNCE_SIGMA * NORMAL * lds_median(sorted, n), LEAST_CHANGE) : 0.0;
    for (size_t i = 0; memory && i < p->count; i++)
        line->weight[i] = change[i] <= most ? line->weight[i] : 0.0;
    free(change);
    free(sorted);
    return memory;
}

/* Points of `group` frames each. */
static bool make_coarse(const struct line *fine, size_t group, struct line *line)
{
    if (!line_open(line, fine->count / group))
        return false;
    for (size_t i = 0; i < line->count; i++) {
        for (size_t k = i * group; k < (i + 1) * group; k++) {
            line->weight[i] += fine->weight[k];
            line->rest[i] += fine->weight[k] * fine->rest[k];
        }
        line->rest[i] /= line->weight[i] > 0.0 ? line->weight[i] : 1.0;
        line->weight[i] /= (double)group;
    }
    return true;
}

static bool make_fine(const struct lds_phasors *p, struct line *line)
{
    if (!line_open(line, p->count))
        return false;
    for (size_t i = 0; i < p->count; i++) {
        line->weight[i] = isnan(p->level[i]) ? 0.0 : 1.0;
        line->rest[i] = isnan(p->level[i]) ? 0.0 : p->level[i];
    }
    return leave_out_edges(p, line) && draw_in(line);
}

static double mean_of(const struct lds_phasors *p, size_t first, size_t last)
{
    double sum = 0.0, count = 0.0;
    for (size_t i = first; i <= last; i++)
        if (!isnan(p->level[i])) {
            sum += p->level[i];
            count += 1.0;
        }
    return sum / count;
}

/* The middle of a stretch: a line through its levels, and how far from that line a frame may be, by their scatter. */
struct middle {
    double mean, slope, centre, most;
};

static bool is_off(const struct lds_phasors *p, const struct middle *m, size_t frame)
{
    return isnan(p->level[frame]) || fabs(p->level[frame] - m->mean - m->slope * ((double)frame - m->centre)) > m->most;
}

static bool middle_of(const struct lds_phasors *p, size_t first, size_t last, double step, struct middle *m)
{
    const size_t quarter = (last - first) / 4, begin = first + quarter, end = last - quarter, half = (begin + end) / 2;
    double *off = malloc((end - begin + 1) * sizeof *off);
    size_t n = 0;
    if (!off) {
        lds_scarce_note();
        return false;
    }
    m->centre = 0.5 * (double)(begin + end);
    m->mean = mean_of(p, begin, end);
    m->slope = (mean_of(p, half + 1, end) - mean_of(p, begin, half)) / (0.5 * (double)(end - begin + 1));
    for (size_t i = begin; i <= end; i++)
        if (!isnan(p->level[i]))
            off[n++] = fabs(p->level[i] - m->mean - m->slope * ((double)i - m->centre));
    m->most = fmax(BOUNCE_SIGMA * NORMAL * (n > 0 ? lds_median(off, n) : 0.0), BOUNCE_STEP * fabs(step));
    free(off);
    return n > 2;
}

/* Moves the ends of a stretch inwards, past the innermost frames that are off. */
static bool trim(const struct lds_phasors *p, double step, size_t *first, size_t *last)
{
    struct middle middle = {0};
    const size_t reach = (size_t)(MOST_BOUNCE * (double)(*last - *first)), begin = *first, end = *last;
    if (!middle_of(p, begin, end, step, &middle))
        return false;
    for (size_t i = begin; i < begin + reach; i++)
        *first = is_off(p, &middle, i) ? i + 1 : *first;
    for (size_t i = end; i > end - reach; i--)
        *last = is_off(p, &middle, i) ? i - 1 : *last;
    return true;
}

/* The stretches between the switchings, without the frames that overlap one. */
static bool part(const struct lds_phasors *p, const struct best *best, struct lds_switching *s)
{
    const size_t edge = (size_t)ceil((0.5 * p->frame_s + EDGE_S) / p->step_s);
    size_t begin = 0, end = p->count - 1;
    while (begin < best->first && isnan(p->level[begin]))
        begin++;
    while (end > best->last && isnan(p->level[end]))
        end--;
    const size_t from[LDS_STRETCHES] = {begin > 0 ? begin + edge : 0, best->first + edge, best->last + edge};
    const size_t to[LDS_STRETCHES] = {best->first, best->last, end + 1 < p->count ? end : end + edge + 1};
    for (int i = 0; i < LDS_STRETCHES; i++) {
        s->first[i] = from[i];
        s->last[i] = to[i] > edge ? to[i] - 1 - edge : 0;
        if (s->last[i] < s->first[i] + FEWEST)
            return false;
    }
    const double step = mean_of(p, s->first[1], s->last[1]) -
                        0.5 * (mean_of(p, s->first[0], s->last[0]) + mean_of(p, s->first[2], s->last[2]));
    for (int i = 0; i < LDS_STRETCHES; i++)
        if (!trim(p, step, &s->first[i], &s->last[i]) || s->last[i] < s->first[i] + FEWEST)
            return false;
    return true;
}

/* The middle of the frames that were left out around an edge; between two frames where none were. */
static double edge_at(const struct line *line, size_t edge)
{
    size_t before = edge, after = edge;
    while (before > 0 && line->weight[before - 1] <= 0.0)
        before--;
    while (after < line->count && line->weight[after] <= 0.0)
        after++;
    return 0.5 * (double)(before + after) - 0.5;
}

bool lds_switching_find(const struct lds_phasors *phasors, struct lds_switching *switching)
{
    struct line coarse = {0}, fine = {0};
    struct best best = {0};
    const size_t group = phasors->count / COARSE + 1;
    *switching = (struct lds_switching){.at_s = {NAN, NAN}};
    bool memory = make_fine(phasors, &fine) && make_coarse(&fine, group, &coarse);
    if (memory && phasors->count >= LDS_STRETCHES * FEWEST) {
        const double total = (double)phasors->count;
        const double least = fmax(SHORTEST_S / phasors->step_s, SHORTEST_SHARE * total) / (double)group;
        prepare(&coarse);
        prepare(&fine);
        search(&coarse, least, &best);
        switching->once = best.once > best.twice;
        best.first *= group;
        best.last *= group;
        if (best.twice > 0.0)
            refine(&fine, 2 * group, &best);
        switching->at_s[0] =
            lds_phasors_time(phasors, edge_at(&fine, switching->once ? best.step * group : best.first));
        switching->at_s[1] = switching->once ? (double)NAN : lds_phasors_time(phasors, edge_at(&fine, best.last));
        switching->found = !switching->once && best.twice > 0.0 && part(phasors, &best, switching);
    }
    line_close(&coarse);
    line_close(&fine);
    return memory;
}
