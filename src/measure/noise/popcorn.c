#include "measure/noise/popcorn.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include <gsl/gsl_statistics_double.h>

#include "grow.h"
#include "measure/analyser.h"
#include "measure/statistics/uncertainty.h"
#include "record/record.h"

/* A step is the mean of the 0.1 s after a moment minus that of the 0.1 s before: whole periods of 50 and of 60 Hz, so
 * hum cancels. Steps are looked for every 10 ms. */
enum { PARTS = 10, PARTS_MAX = 1 << 20, STEPS_MAX = 1024 };
static const double PART_S = 0.01;
static const double LIMIT_SIGMA = 6.0;
static const double SPREAD = 0.3;      /* of the sizes of steps between the same two levels */
static const double ALTERNATING = 0.8; /* share of the steps that reverse the previous one */

struct lds_popcorn {
    double rate_hz;
    double position; /* samples so far */
    double sum;      /* of the part being filled */
    int count;
    float *part; /* means of 10 ms */
    size_t parts, room;
};

struct lds_popcorn *lds_popcorn_new(double rate_hz)
{
    struct lds_popcorn *p = calloc(1, sizeof *p);
    if (p)
        p->rate_hz = rate_hz;
    return p;
}

void lds_popcorn_free(void *state)
{
    struct lds_popcorn *popcorn = state;
    if (!popcorn)
        return;
    free(popcorn->part);
    free(popcorn);
}

static bool close_part(struct lds_popcorn *p)
{
    if (p->parts == PARTS_MAX)
        return true; /* three hours of it are enough */
    if (p->parts == p->room) {
        size_t room = p->room ? 2 * p->room : 1024;
        if (!lds_resize(&p->part, room, sizeof *p->part))
            return false;
        p->room = room;
    }
    p->part[p->parts++] = (float)(p->sum / p->count);
    p->sum = 0.0;
    p->count = 0;
    return true;
}

bool lds_popcorn_push(void *state, const double *x, size_t n)
{
    struct lds_popcorn *p = state;
    double length = p->rate_hz * PART_S;
    double end = length * ((double)p->parts + 1.0);
    for (size_t i = 0; i < n; i++) {
        if (p->position >= end && p->parts < PARTS_MAX) {
            if (!close_part(p))
                return false;
            end += length;
        }
        p->sum += x[i];
        p->count++;
        p->position++;
    }
    return true;
}

static double step_at(const struct lds_popcorn *p, size_t at)
{
    double before = 0.0, after = 0.0;
    for (size_t k = 0; k < PARTS; k++) {
        before += p->part[at - 1 - k];
        after += p->part[at + k];
    }
    return (after - before) / PARTS;
}

/* The peaks of |step| above the limit, at least the length of a step apart. */
static size_t find_steps(const double *step, size_t count, double limit, double *top)
{
    size_t found = 0;
    for (size_t i = 0; i < count && found < STEPS_MAX; i++) {
        if (fabs(step[i]) <= limit)
            continue;
        size_t best = i, end = i + 2 * PARTS < count ? i + 2 * PARTS : count;
        for (size_t k = i; k < end && step[k] * step[i] > 0.0; k++)
            if (fabs(step[k]) > fabs(step[best]))
                best = k;
        top[found++] = step[best];
        i = best + PARTS;
    }
    return found;
}

static void judge(double *top, size_t count, double sigma, struct lds_popcorn_result *result)
{
    result->steps = count;
    if (count < 3)
        return;
    size_t turns = 0;
    for (size_t i = 1; i < count; i++)
        turns += top[i] * top[i - 1] < 0.0;
    for (size_t i = 0; i < count; i++)
        top[i] = fabs(top[i]);
    double mean = gsl_stats_mean(top, 1, count), sd = gsl_stats_sd(top, 1, count);
    double own = sqrt(fmax(0.0, sd * sd - sigma * sigma));
    if ((double)turns < ALTERNATING * (double)(count - 1) || own > SPREAD * mean)
        return;
    result->found = true;
    /* A step may be anywhere in its part. The better of the two places beside it misses up to half a part, a quarter on
     * average. */
    mean /= 1.0 - 0.25 / PARTS;
    result->step = mean;
    result->u_step = fmax(sd, sigma) / sqrt((double)count);
}

bool lds_popcorn_finish(const struct lds_popcorn *p, struct lds_popcorn_result *result)
{
    memset(result, 0, sizeof *result);
    if (p->parts < (size_t)(2.0 / PART_S))
        return true;
    size_t count = p->parts - 2 * PARTS + 1;
    double *step = malloc((2 * count + STEPS_MAX) * sizeof *step);
    if (!step)
        return false;
    double *scratch = step + count, *top = scratch + count;
    for (size_t i = 0; i < count; i++) {
        step[i] = step_at(p, i + PARTS);
        scratch[i] = fabs(step[i]);
    }
    double sigma = gsl_stats_median(scratch, 1, count) / 0.6745;
    result->usable = true;
    result->least = LIMIT_SIGMA * sigma;
    if (sigma > 0.0)
        judge(top, find_steps(step, count, result->least, top), sigma, result);
    free(step);
    return true;
}

static bool add_popcorn(struct lds_channel *channel, const struct lds_findings *findings,
                        const struct lds_popcorn_result *popcorn)
{
    const char *key = "noise.popcorn";
    if (findings->track.usable || findings->driven->undriven)
        return lds_channel_add_absent(channel, key,
                                      "steps are searched for only without a tone: record the idle output");
    if (!popcorn->usable)
        return lds_channel_add_absent(channel, key, "the capture holds %.3g s; steps need two seconds",
                                      findings->seconds);
    struct lds_figure *figure = lds_channel_add(channel, key);
    double scale = findings->scale * (findings->calibrated ? 1.0 : M_SQRT1_2);
    double relative = findings->calibrated ? lds_bench_level_u(findings->bench) : 0.0;
    double half = lds_coverage(INFINITY) * popcorn->u_step;
    if (popcorn->found) {
        lds_figure_set_level(figure, findings->calibrated, scale * popcorn->step, scale * (popcorn->step - half),
                             scale * (popcorn->step + half), scale * popcorn->u_step);
        lds_figure_add_bench(figure, relative * scale * popcorn->step);
    } else {
        lds_figure_set_level(figure, findings->calibrated, NAN, NAN, scale * popcorn->least, NAN);
        lds_figure_add_bench(figure, relative * scale * popcorn->least);
        figure->flags |= LDS_FLAG_BELOW_FLOOR;
    }
    figure->dof = INFINITY;
    return true;
}

static bool make(const struct lds_findings *start, void **state)
{
    *state = lds_popcorn_new(start->shape->plan->slow_rate_hz);
    return *state != NULL;
}

static bool figures(const void *state, struct lds_channel *channel, const struct lds_findings *findings)
{
    struct lds_popcorn_result popcorn = {0};
    const char *why = lds_findings_no_noise(findings);
    if (why)
        return lds_channel_add_absent(channel, "noise.popcorn", "%s", why);
    return (!state || lds_popcorn_finish(state, &popcorn)) && add_popcorn(channel, findings, &popcorn);
}

const struct lds_analyser lds_analyse_popcorn = {.tone = LDS_WITHOUT_TONE,
                                                 .still = true,
                                                 .make = make,
                                                 .slow = lds_popcorn_push,
                                                 .figures = figures,
                                                 .free = lds_popcorn_free};
