/* Runs of equal samples where a signal cannot stand still: at full scale, at its own extremes, and at zero. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "measure/health/parts.h"

enum { FULL_RUN = 2, FLAT_RUN = 3, FLAT_REACH = 64, ZERO_STRIDE = 8, ZERO_RUN = 8, ZERO_JUMP_RUN = 16, AMID = 32 };

void lds_fault_add(struct lds_fault_list *list, int64_t start, int64_t length)
{
    if (list->listed < LDS_HEALTH_LISTED) {
        list->fault[list->listed].start = start;
        list->fault[list->listed++].length = length;
    }
    list->total++;
}

/* A run that has ended, and the samples on both sides of it, nearest first. */
struct run {
    double level;
    int64_t length;
    const double *before, *after;
    size_t before_count, after_count;
    double quantum;
};

typedef bool run_judge(const struct run *run);

static bool is_full_scale(const struct run *run)
{
    return run->length >= FULL_RUN;
}

/* How far one side of a flat run falls, relative to the most that an unclipped crest could. Near its crest a sine is v
 * - a d^2/2. Staying within (1 + 2e) steps of quantisation over r samples, with e = 2 steps of dither and noise either
 * way, bounds its curvature: a r^2/8 <= 5 q. At k samples beyond the run it has then fallen by at most 5 q (1 +
 * 2k/r)^2, to which noise adds 3 q. A clipped sine leaves the run at full slope. */
static double fall(const struct run *run, const double *side, size_t count)
{
    double worst = 0.0, r = (double)run->length;
    for (size_t k = 1; k <= count && k <= FLAT_REACH && (double)k <= r; k++) {
        double wider = 1.0 + 2.0 * (double)k / r;
        double allowed = run->quantum * (5.0 * wider * wider + 3.0);
        worst = fmax(worst, fabs(side[k - 1] - run->level) / allowed);
    }
    return worst;
}

static bool is_flat_top(const struct run *run)
{
    if (run->length < FLAT_RUN || run->level == 0.0 || (run->before_count == 0 && run->after_count == 0))
        return false;
    bool before = run->before_count == 0 || fall(run, run->before, run->before_count) > 1.0;
    return before && (run->after_count == 0 || fall(run, run->after, run->after_count) > 1.0);
}

/* The number of second differences, and of those that exceed the limit. */
static void second_differences(const double *x, size_t count, double limit, size_t *all, size_t *large)
{
    for (size_t i = 2; i < count; i++)
        *large += fabs(x[i] - 2.0 * x[i - 1] + x[i - 2]) > limit;
    *all += count - 2;
}

/* Whether the samples around the run scatter by more than `deviation` from one to the next. The median second
 * difference of white noise is 0.6745 sqrt(6) of its standard deviation: the squares of (1, -2, 1) add up to 6. A
 * high-frequency tone counts as noise, and makes zeros as rare. */
static bool noise_exceeds(const struct run *run, double deviation)
{
    double limit = 0.6745 * sqrt(6.0) * deviation;
    size_t all = 0, large = 0;
    second_differences(run->before, run->before_count, limit, &all, &large);
    second_differences(run->after, run->after_count, limit, &all, &large);
    return 2 * large > all;
}

/* Whether the signal jumps into or out of the run by more than the steps between the 32 samples beside it can explain.
 */
static bool jumps(const struct run *run, const double *side)
{
    double step = 0.0;
    for (size_t i = 1; i < AMID; i++)
        step = fmax(step, fabs(side[i] - side[i - 1]));
    return fabs(side[0] - run->level) > 8.0 * (step + run->quantum);
}

/* Whether the nearest 8 samples on a side are within 3 steps of the run, as noise above 3 steps hardly ever is. */
static bool near_level(const double *side, const struct run *run)
{
    for (size_t i = 0; i < 8; i++)
        if (fabs(side[i] - run->level) > 3.0 * run->quantum)
            return false;
    return true;
}

/* A run of zeros within a signal. Noise of deviation s leaves a sample at zero with a probability of at most 0.4 q/s; a
 * run of zeros is a fault when its probability is below e^-40, which is unlikely in a capture of any length. Below 3
 * steps of noise, hum of about a step can hold the signal at zero for long, so there only a jump shows a fault. */
static bool is_gap(const struct run *run)
{
    if (run->length < ZERO_RUN || run->before_count < AMID || run->after_count < AMID)
        return false;
    if (near_level(run->before, run) && near_level(run->after, run))
        return false; /* an idle capture of a few steps gets here often */
    double enough = fmax(3.0, 0.4 * exp(40.0 / (double)run->length));
    if (noise_exceeds(run, enough * run->quantum))
        return true;
    return run->length >= ZERO_JUMP_RUN && (jumps(run, run->before) || jumps(run, run->after));
}

static bool in_watch(const struct lds_run_watch *watch, double x)
{
    return x >= watch->low && x <= watch->high;
}

static void open_run(struct lds_run_watch *watch, const struct lds_health_block *block, ptrdiff_t at)
{
    watch->open = true;
    watch->start = block->start + at;
    watch->before_count = 0;
    for (ptrdiff_t i = at - 1; i >= -(ptrdiff_t)block->before && watch->before_count < LDS_RUN_CONTEXT; i--)
        watch->before[watch->before_count++] = block->x[i];
}

static void close_run(struct lds_run_watch *watch, run_judge *judge, const struct lds_health_sums *sums, int64_t end,
                      const double *after, size_t after_count)
{
    struct run run = {
        .level = 0.5 * (watch->low + watch->high),
        .length = end - watch->start,
        .before = watch->before,
        .before_count = watch->before_count,
        .after = after,
        .after_count = after_count < LDS_RUN_CONTEXT ? after_count : LDS_RUN_CONTEXT,
    };
    run.quantum = lds_health_sums_quantum(sums, run.level);
    if (judge(&run))
        lds_fault_add(&watch->list, watch->start, run.length);
    watch->open = false;
}

/* Looks at every stride-th sample of the block and follows each run found to both ends. */
static void scan(struct lds_run_watch *watch, run_judge *judge, size_t stride, const struct lds_health_sums *sums,
                 const struct lds_health_block *block)
{
    const double *x = block->x;
    size_t at = 0;
    /* A run shorter than the stride may have started unseen in the previous block. */
    ptrdiff_t lowest = -(ptrdiff_t)(block->before < stride - 1 ? block->before : stride - 1);
    while (at < block->n) {
        if (!watch->open) {
            size_t hit = (at + stride - 1) / stride * stride;
            while (hit < block->n && !in_watch(watch, x[hit]))
                hit += stride;
            if (hit >= block->n)
                return;
            ptrdiff_t first = (ptrdiff_t)hit;
            while (first > lowest && in_watch(watch, x[first - 1]))
                first--;
            open_run(watch, block, first);
            at = hit + 1;
        }
        while (at < block->n && in_watch(watch, x[at]))
            at++;
        if (at == block->n)
            return;
        close_run(watch, judge, sums, block->start + (int64_t)at, x + at, block->n + block->ahead - at);
        lowest = (ptrdiff_t)at;
    }
}

/* Runs at an extreme count only as long as it is the extreme: with a larger one all earlier runs are part of the
 * signal. */
static void raise(struct lds_run_watch *watch, double extreme)
{
    watch->low = watch->high = extreme;
    watch->open = false;
    watch->list.listed = 0;
    watch->list.total = 0;
}

static void set_full_scale(struct lds_health_runs *runs, const struct lds_health_sums *sums)
{
    /* The codes of b-bit integers are -2^(b-1) .. 2^(b-1) - 1. Floating point that holds integers ends at their top
     * code, other floating point within one single-precision rounding of 1. */
    int bits = runs->bits ? runs->bits : lds_health_sums_bits(sums);
    if (bits == 0 || bits > 25)
        bits = runs->bits ? bits : 25;
    runs->top.low = 1.0 - ldexp(1.0, 1 - bits);
    runs->top.high = runs->bits ? 1.0 : 1.0 + 0x1p-23;
    runs->bottom.high = runs->bits ? -1.0 : -1.0 + 0x1p-24;
    runs->bottom.low = runs->bits ? -1.0 : -1.0 - 0x1p-23;
}

void lds_health_runs_start(struct lds_health_runs *runs, int bits, bool in_volts)
{
    memset(runs, 0, sizeof *runs);
    runs->bits = bits;
    runs->full_scale = !in_volts;
    runs->high.low = runs->high.high = -INFINITY;
    runs->low.low = runs->low.high = INFINITY;
}

void lds_health_runs_block(struct lds_health_runs *runs, const struct lds_health_sums *sums,
                           const struct lds_health_block *block)
{
    if (runs->full_scale) {
        set_full_scale(runs, sums);
        if (runs->top.open || block->max >= runs->top.low)
            scan(&runs->top, is_full_scale, 1, sums, block);
        if (runs->bottom.open || block->min <= runs->bottom.high)
            scan(&runs->bottom, is_full_scale, 1, sums, block);
    }
    if (block->max > runs->high.low)
        raise(&runs->high, block->max);
    if (block->min < runs->low.low)
        raise(&runs->low, block->min);
    bool at_top = runs->full_scale && runs->high.low >= runs->top.low && runs->high.low <= runs->top.high;
    if ((runs->high.open || block->max == runs->high.low) && !at_top)
        scan(&runs->high, is_flat_top, 1, sums, block);
    bool at_bottom = runs->full_scale && runs->low.low <= runs->bottom.high && runs->low.low >= runs->bottom.low;
    if ((runs->low.open || block->min == runs->low.low) && !at_bottom)
        scan(&runs->low, is_flat_top, 1, sums, block);
    if (runs->zero.open || (block->min <= 0.0 && block->max >= 0.0))
        scan(&runs->zero, is_gap, ZERO_STRIDE, sums, block);
}

static void end_run(struct lds_run_watch *watch, run_judge *judge, const struct lds_health_sums *sums, int64_t end)
{
    if (watch->open)
        close_run(watch, judge, sums, end, NULL, 0);
}

void lds_health_runs_finish(struct lds_health_runs *runs, const struct lds_health_sums *sums, int64_t end)
{
    end_run(&runs->top, is_full_scale, sums, end);
    end_run(&runs->bottom, is_full_scale, sums, end);
    end_run(&runs->high, is_flat_top, sums, end);
    end_run(&runs->low, is_flat_top, sums, end);
    end_run(&runs->zero, is_gap, sums, end);
}
