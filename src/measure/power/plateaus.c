#include "measure/power/plateaus.h"

#include <math.h>
#include <stdlib.h>

#include "grow.h"
#include "measure/statistics/median.h"

/* In frames. The means on both sides of a step are taken where neither its frame nor its fade reaches. */
enum { GAP = 4, SIDE = 8, REACH = GAP + SIDE, LAG = 6, LEAST = 6 };
/* Common practice, no source. */
static const double STEP = 0.0046, STEP_SIGMA = 6.0; /* smallest step: 0.04 dB */
static const double ABOVE = 6.0; /* times the noise of a frame: the least level that counts as a tone */
static const double FLAT = 0.07, FLAT_SIGMA = 8.0; /* widest range of a plateau: 0.6 dB */
static const double SAME_LENGTH = 0.08,
                    MOSTLY = 0.7;      /* difference of equal lengths, relative; share of plateaus that must be equal */
static const double SETTLES_S = 0.015; /* a fade, and what it takes to settle */

struct work {
    const struct lds_tone_course *course;
    size_t count;
    double *size, *sum; /* amplitude of each frame; sums of those before it */
    double noise;       /* standard deviation of a frame's amplitude */
    size_t bounds;
    double *bound; /* frames at which the level steps, the ends included */
};

/* Second differences, which neither steps nor slopes change much. */
static bool find_noise(struct work *w)
{
    double *difference = malloc(w->count * sizeof *difference);
    size_t n = 0;
    if (!difference)
        return false;
    for (size_t i = 2 * LAG; i < w->count; i++)
        difference[n++] = fabs(w->size[i] - 2.0 * w->size[i - LAG] + w->size[i - 2 * LAG]);
    w->noise = n ? lds_median(difference, n) / (0.6745 * sqrt(6.0)) : 0.0;
    free(difference);
    return true;
}

static double mean(const struct work *w, size_t first, size_t end)
{
    return (w->sum[end] - w->sum[first]) / (double)(end - first);
}

/* How far the amplitude steps at a frame; 0: not at all. */
static double step_at(const struct work *w, size_t at)
{
    if (at < REACH || at + REACH >= w->count)
        return 0.0;
    const double before = mean(w, at - REACH, at - GAP), after = mean(w, at + GAP + 1, at + REACH + 1);
    const double size = fabs(after - before);
    return size > STEP * fmax(before, after) && size > STEP_SIGMA * w->noise ? size : 0.0;
}

static bool add_bound(struct work *w, double frame)
{
    double *bound = lds_grow(&w->bound, &w->bounds, sizeof *bound);
    if (bound)
        *bound = frame;
    return bound;
}

/* A step is where the difference is largest. It is nearly as large in some frames around, so the middle of those is
 * taken. */
static bool find_bounds(struct work *w)
{
    bool memory = add_bound(w, 0.0);
    for (size_t i = REACH; memory && i + REACH < w->count; i++) {
        const double size = step_at(w, i);
        bool highest = size > 0.0;
        for (size_t j = i - SIDE; highest && j <= i + SIDE; j++)
            highest = j < i ? step_at(w, j) < size : step_at(w, j) <= size;
        if (!highest)
            continue;
        size_t from = i, to = i;
        while (i - from < GAP && step_at(w, from - 1) > 0.9 * size)
            from--;
        while (to - i < 2 * GAP && step_at(w, to + 1) > 0.9 * size)
            to++;
        memory = add_bound(w, 0.5 * (double)(from + to));
    }
    return memory && add_bound(w, (double)w->count - 1.0);
}

/* Whether the level between two steps is that of a tone, and steady. */
static bool is_plateau(const struct work *w, double from, double to, struct lds_plateau_span *span)
{
    const size_t first = (size_t)from + GAP, end = to > GAP ? (size_t)to - GAP + 1 : 0;
    if (end < first + LEAST)
        return false;
    const double level = mean(w, first, end);
    double low = INFINITY, high = -INFINITY;
    for (size_t i = first; i < end; i++) {
        low = fmin(low, w->size[i]);
        high = fmax(high, w->size[i]);
    }
    if (!(level > ABOVE * w->noise) || high - low > fmax(FLAT * level, FLAT_SIGMA * w->noise))
        return false;
    const double margin_s = fmin(3.0 * w->course->step_s, 0.05) + SETTLES_S;
    *span = (struct lds_plateau_span){
        .from_s = lds_tone_course_s(w->course, from), .to_s = lds_tone_course_s(w->course, to), .amplitude = level};
    span->inner_from_s = span->from_s + margin_s;
    span->inner_to_s = span->to_s - margin_s;
    return true;
}

static bool add_span(struct lds_plateaus *plateaus, const struct lds_plateau_span *span)
{
    struct lds_plateau_span *one = lds_grow(&plateaus->span, &plateaus->count, sizeof *one);
    if (one)
        *one = *span;
    return one;
}

/* How long most plateaus are held; NAN: they differ. */
static bool common_hold(const struct lds_plateaus *found, double *hold_s)
{
    *hold_s = NAN;
    double *length = malloc((found->count + 1) * sizeof *length);
    if (!length)
        return false;
    for (size_t i = 0; i < found->count; i++)
        length[i] = found->span[i].to_s - found->span[i].from_s;
    const double middle = found->count ? lds_median(length, found->count) : 0.0;
    size_t same = 0;
    for (size_t i = 0; i < found->count; i++)
        same += fabs(length[i] - middle) < SAME_LENGTH * middle;
    if ((double)same >= MOSTLY * (double)found->count && found->count >= LDS_PLATEAUS_LEAST)
        *hold_s = middle;
    free(length);
    return true;
}

/* Adds one plateau, or several where its length is a multiple of the usual one. */
static bool add_cut(struct lds_plateaus *plateaus, const struct lds_plateau_span *span, double hold_s)
{
    const double length = span->to_s - span->from_s, margin = span->inner_from_s - span->from_s;
    const double parts = isnan(hold_s) ? 1.0 : fmax(round(length / hold_s), 1.0);
    if (parts < 2.0 || fabs(length - parts * hold_s) > 0.2 * hold_s)
        return add_span(plateaus, span);
    for (double i = 0.0; i < parts; i++) {
        struct lds_plateau_span part = *span;
        part.from_s = span->from_s + length / parts * i;
        part.to_s = part.from_s + length / parts;
        part.inner_from_s = part.from_s + margin;
        part.inner_to_s = part.to_s - margin;
        if (!add_span(plateaus, &part))
            return false;
    }
    return true;
}

bool lds_plateaus_find(const struct lds_tone_course *course, double hold_s, struct lds_plateaus *plateaus)
{
    struct work w = {.course = course, .count = course->count};
    struct lds_plateaus found = {0};
    *plateaus = (struct lds_plateaus){0};
    w.size = malloc((w.count + 1) * sizeof *w.size);
    w.sum = malloc((w.count + 1) * sizeof *w.sum);
    bool memory = w.size && w.sum;
    double sum = 0.0;
    for (size_t i = 0; memory && i <= w.count; i++) {
        w.sum[i] = sum;
        w.size[i] = i < w.count ? cabs(course->value[i]) : 0.0;
        sum += w.size[i];
    }
    memory = memory && find_noise(&w) && find_bounds(&w);
    plateaus->noise = w.noise;
    for (size_t i = 0; memory && i + 1 < w.bounds; i++) {
        struct lds_plateau_span span;
        memory = !is_plateau(&w, w.bound[i], w.bound[i + 1], &span) || add_span(&found, &span);
    }
    memory = memory && (!isnan(hold_s) || common_hold(&found, &hold_s));
    for (size_t i = 0; memory && i < found.count; i++)
        memory = add_cut(plateaus, &found.span[i], hold_s);
    free(found.span);
    free(w.size);
    free(w.sum);
    free(w.bound);
    return memory;
}
