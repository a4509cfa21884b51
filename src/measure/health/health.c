#include "measure/health/health.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "measure/health/parts.h"

enum { HELD = LDS_HEALTH_BLOCK + LDS_HEALTH_AROUND };

struct lds_health {
    double rate_hz;
    bool in_volts;
    int64_t start; /* sample number of the next block */
    size_t before; /* samples kept before it */
    size_t held;   /* samples held, from its first on */
    double buffer[LDS_HEALTH_AROUND + HELD];
    struct lds_health_sums sums;
    struct lds_health_runs runs;
    struct lds_health_repeats *repeats;
};

struct lds_health *lds_health_new(double rate_hz, int bits, bool in_volts)
{
    struct lds_health *health = calloc(1, sizeof *health);
    if (!health)
        return NULL;
    health->repeats = lds_health_repeats_new();
    if (!health->repeats) {
        free(health);
        return NULL;
    }
    health->rate_hz = rate_hz;
    health->in_volts = in_volts;
    lds_health_sums_start(&health->sums, !in_volts);
    lds_health_runs_start(&health->runs, bits, in_volts);
    return health;
}

/* Looks at the next n samples held, with the remaining ones visible ahead, and moves on by n. */
static void look(struct lds_health *health, size_t n)
{
    struct lds_health_block block = {
        .x = health->buffer + LDS_HEALTH_AROUND,
        .n = n,
        .before = health->before,
        .ahead = health->held - n,
        .start = health->start,
    };
    lds_health_sums_block(&health->sums, &block);
    lds_health_runs_block(&health->runs, &health->sums, &block);
    lds_health_repeats_block(health->repeats, &block);
    memmove(health->buffer, health->buffer + n, (LDS_HEALTH_AROUND + health->held - n) * sizeof *health->buffer);
    health->before = health->before + n < LDS_HEALTH_AROUND ? health->before + n : LDS_HEALTH_AROUND;
    health->held -= n;
    health->start += (int64_t)n;
}

bool lds_health_push(void *state, const double *x, size_t n)
{
    struct lds_health *health = state;
    /* Blocks start at the same samples whatever the size of the pieces, so the result is the same too. */
    while (n > 0) {
        size_t room = HELD - health->held, part = n < room ? n : room;
        memcpy(health->buffer + LDS_HEALTH_AROUND + health->held, x, part * sizeof *x);
        health->held += part;
        x += part;
        n -= part;
        if (health->held == HELD)
            look(health, LDS_HEALTH_BLOCK);
    }
    return true;
}

static void copy_faults(const struct lds_health *health, const struct lds_fault_list *list, const char *kind,
                        struct lds_problem *problem, size_t *count)
{
    for (size_t i = 0; i < list->listed; i++) {
        struct lds_problem *to = &problem[(*count)++];
        snprintf(to->kind, sizeof to->kind, "%s", kind);
        to->at_s = (double)list->fault[i].start / health->rate_hz;
        to->samples = (double)list->fault[i].length;
        to->ceiling = NAN;
    }
}

static int earlier(const void *a, const void *b)
{
    const struct lds_problem *x = a, *y = b;
    if (x->at_s != y->at_s)
        return x->at_s < y->at_s ? -1 : 1;
    return strcmp(x->kind, y->kind);
}

static bool list_problems(const struct lds_health *health, const struct lds_fault_list *repeats,
                          struct lds_health_result *result)
{
    const struct lds_health_runs *runs = &health->runs;
    const struct lds_fault_list *clipped[] = {&runs->top.list, &runs->bottom.list, &runs->high.list, &runs->low.list};
    size_t most = 6 * LDS_HEALTH_LISTED, count = 0;
    struct lds_problem *problem = calloc(most, sizeof *problem);
    if (!problem)
        return false;
    for (size_t i = 0; i < sizeof clipped / sizeof *clipped; i++) {
        result->clipped += clipped[i]->total;
        copy_faults(health, clipped[i], "clipped", problem, &count);
    }
    result->gaps = runs->zero.list.total + repeats->total;
    copy_faults(health, &runs->zero.list, "gap", problem, &count);
    copy_faults(health, repeats, "repeat", problem, &count);
    qsort(problem, count, sizeof *problem, earlier);
    result->problems = count < LDS_HEALTH_LISTED ? count : LDS_HEALTH_LISTED;
    result->problem = problem;
    return true;
}

bool lds_health_finish(struct lds_health *health, struct lds_health_result *result)
{
    while (health->held > 0)
        look(health, health->held < LDS_HEALTH_BLOCK ? health->held : LDS_HEALTH_BLOCK);
    lds_health_runs_finish(&health->runs, &health->sums, health->start);
    const struct lds_fault_list *repeats = lds_health_repeats_finish(health->repeats);
    const struct lds_health_sums *sums = &health->sums;
    bool any = sums->n > 0;
    *result = (struct lds_health_result){
        .samples = sums->n,
        .mean = any ? lds_health_sums_mean(sums) : NAN,
        .rms = any ? sqrt(sums->squares / (double)sums->n) : NAN,
        .min = any ? sums->min : NAN,
        .max = any ? sums->max : NAN,
        .sum_cubes = sums->cubes + sums->cubes_lost,
        .constant = any && sums->min == sums->max,
        .bits = lds_health_sums_bits(sums),
    };
    return list_problems(health, repeats, result);
}

void lds_health_free(void *state)
{
    struct lds_health *health = state;
    if (!health)
        return;
    lds_health_repeats_free(health->repeats);
    free(health);
}
