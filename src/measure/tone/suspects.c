#include "measure/tone/suspects.h"

#include <math.h>
#include <stdlib.h>

#include "measure/statistics/median.h"

static const size_t lengths[] = {1, 2, 4, 8, 16};
enum { LENGTHS = sizeof lengths / sizeof lengths[0], STATISTICS = LENGTHS + 1, HALF = LDS_SUSPECT_STEPS / 2 };
enum { ROUNDS = 4 }; /* jumps inflate the scatter until they are removed */
static const double SUSPECT = 6.0;
static const double LEAST_RAD = 1e-6; /* rounding of a computed tone */

struct search {
    double *phase;
    ptrdiff_t count;
    double sigma[STATISTICS];
    double *score, *size, *spare;
};

static double mean(const struct search *s, ptrdiff_t first, size_t length)
{
    double sum = 0.0;
    for (size_t k = 0; k < length; k++)
        sum += s->phase[(size_t)first + k];
    return sum / (double)length;
}

/* The phase after frame i minus the phase before it, as means of `length` frames that do not overlap frame i. */
static double step_at(const struct search *s, ptrdiff_t i, size_t length)
{
    ptrdiff_t before = i - HALF - (ptrdiff_t)length + 1, after = i + HALF;
    if (before < 0 || after + (ptrdiff_t)length > s->count)
        return NAN;
    return mean(s, after, length) - mean(s, before, length);
}

/* A step minus the mean of the steps on both sides, so that neither the tone's frequency nor a steady change of it
 * counts: a third difference of means, -1 3 -3 1. At the ends both neighbours are on one side, and *size is twice as
 * large in the same noise. */
static double step_statistic(const struct search *s, ptrdiff_t i, size_t length, double *size)
{
    ptrdiff_t apart = (ptrdiff_t)length + LDS_SUSPECT_STEPS - 1;
    double here = step_at(s, i, length), before = step_at(s, i - apart, length), after = step_at(s, i + apart, length);
    *size = here - 0.5 * (before + after);
    if (!isnan(*size))
        return *size;
    ptrdiff_t side = isnan(before) ? apart : -apart;
    *size = here - 2.0 * step_at(s, i + side, length) + step_at(s, i + 2 * side, length);
    return 0.5 * *size;
}

/* For a phase that changes and returns within a frame: two jumps in close succession. */
static double return_statistic(const struct search *s, ptrdiff_t i, double *size)
{
    *size = 0.0;
    if (i < LDS_SUSPECT_STEPS || i + LDS_SUSPECT_STEPS >= s->count)
        return NAN;
    return s->phase[i] - 0.5 * (s->phase[i - LDS_SUSPECT_STEPS] + s->phase[i + LDS_SUSPECT_STEPS]);
}

static double statistic(const struct search *s, int which, ptrdiff_t i, double *size)
{
    return which < LENGTHS ? step_statistic(s, i, lengths[which], size) : return_statistic(s, i, size);
}

/* Scatter from the median magnitude (0.6745 standard deviations); INFINITY with few values. */
static double scatter(struct search *s, int which)
{
    size_t known = 0;
    for (ptrdiff_t i = 0; i < s->count; i++) {
        double size, value = fabs(statistic(s, which, i, &size));
        if (!isnan(value))
            s->spare[known++] = value;
    }
    return (ptrdiff_t)known > s->count / 4 ? fmax(LEAST_RAD, lds_median(s->spare, known) / 0.6745) : (double)INFINITY;
}

static void score(struct search *s, ptrdiff_t first, ptrdiff_t end)
{
    first = first < 0 ? 0 : first;
    end = end > s->count ? s->count : end;
    for (ptrdiff_t i = first; i < end; i++) {
        s->score[i] = 0.0;
        for (int which = 0; which < STATISTICS; which++) {
            double size, value = fabs(statistic(s, which, i, &size)) / s->sigma[which];
            if (value > s->score[i]) {
                s->score[i] = value;
                s->size[i] = size;
            }
        }
    }
}

static ptrdiff_t greatest(const struct search *s)
{
    ptrdiff_t best = 0;
    for (ptrdiff_t i = 1; i < s->count; i++)
        if (s->score[i] > s->score[best])
            best = i;
    return best;
}

/* Subtracts the step from the phase; frames that contain it are lost. */
static void take_out(struct search *s, ptrdiff_t at, double size)
{
    for (ptrdiff_t i = at; i < s->count; i++)
        s->phase[i] -= size;
    for (ptrdiff_t i = at - HALF; i <= at + HALF; i++)
        if (i >= 0 && i < s->count)
            s->phase[i] = NAN;
    ptrdiff_t reach = 3 * (ptrdiff_t)(lengths[LENGTHS - 1] + LDS_SUSPECT_STEPS);
    score(s, at - reach, at + reach + 1);
}

/* Interpolates the lost frames linearly. */
static void fill(struct search *s)
{
    for (ptrdiff_t i = 0; i < s->count; i++) {
        if (!isnan(s->phase[i]))
            continue;
        ptrdiff_t last = i;
        while (last < s->count && isnan(s->phase[last]))
            last++;
        double before = i > 0 ? s->phase[i - 1] : last < s->count ? s->phase[last] : 0.0;
        double after = last < s->count ? s->phase[last] : before, gap = (double)(last - i + 1);
        for (ptrdiff_t k = i; k < last; k++)
            s->phase[k] = before + (after - before) * (double)(k - i + 1) / gap;
        i = last;
    }
}

static bool covered(const struct lds_suspects *found, ptrdiff_t frame, size_t apart)
{
    for (size_t k = 0; k < found->count; k++)
        if (labs((long)frame - (long)found->suspect[k].frame) < (long)apart)
            return true;
    return false;
}

static int earlier_first(const void *a, const void *b)
{
    size_t x = ((const struct lds_suspect *)a)->frame, y = ((const struct lds_suspect *)b)->frame;
    return (x > y) - (x < y);
}

/* The largest first. Each is removed before the next is searched, which also removes what it does to its surroundings.
 * false: none found. */
static bool pick(struct search *s, size_t apart, struct lds_suspects *suspects)
{
    bool any = false;
    for (int turn = 0; turn < 2 * LDS_SUSPECTS_MAX && suspects->count < LDS_SUSPECTS_MAX; turn++) {
        ptrdiff_t at = greatest(s);
        double size = s->size[at], by = s->score[at];
        if (!(by > SUSPECT))
            break;
        if (!covered(suspects, at, apart))
            suspects->suspect[suspects->count++] = (struct lds_suspect){(size_t)at, by, size};
        take_out(s, at, size);
        any = true;
    }
    return any;
}

/* Scatter of a step between means of the longest length. Noise falls with the root of the length; hum beside the tone
 * adds scatter at short lengths and a wandering tone at long ones, so the largest is taken. */
static double scatter_of_steps(struct search *s)
{
    double most = 0.0;
    for (int which = 0; which < LENGTHS; which++) {
        double here = scatter(s, which) * sqrt((double)lengths[which] / (double)lengths[LENGTHS - 1]);
        if (isfinite(here))
            most = fmax(most, here);
    }
    return most;
}

double lds_suspects_scatter(double *y, size_t count)
{
    double *spare = malloc((count + 1) * sizeof *spare);
    if (!spare)
        return NAN;
    struct search s = {.phase = y, .count = (ptrdiff_t)count, .spare = spare};
    double sigma = scatter_of_steps(&s);
    free(spare);
    return sigma;
}

bool lds_suspects_find(double *phase, size_t count, size_t apart, struct lds_suspects *suspects)
{
    *suspects = (struct lds_suspects){.sigma_rad = INFINITY};
    suspects->suspect = calloc(LDS_SUSPECTS_MAX, sizeof *suspects->suspect);
    double *room = calloc(3 * count + 1, sizeof *room);
    if (!room || !suspects->suspect) {
        free(room);
        return false;
    }
    struct search s = {
        .phase = phase, .count = (ptrdiff_t)count, .score = room, .size = room + count, .spare = room + 2 * count};
    for (int round = 0; round < ROUNDS && count > 0; round++) {
        for (int which = 0; which < STATISTICS; which++)
            s.sigma[which] = scatter(&s, which);
        score(&s, 0, s.count);
        if (!pick(&s, apart, suspects))
            break;
    }
    suspects->sigma_rad = scatter_of_steps(&s);
    fill(&s);
    qsort(suspects->suspect, suspects->count, sizeof *suspects->suspect, earlier_first);
    free(room);
    return true;
}
