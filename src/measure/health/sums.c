/* Sums, extremes and the grid on which the samples lie. */
#include <math.h>
#include <string.h>

#include "measure/health/parts.h"
#include "spectrum/simd.h"

enum { LANES = 8, FOURS = LANES / 4, STEP_EVERY = 16, STEP_FIRST = 16 };

/* Samples as multiples of 2^-31: the finest grid of any integer container. */
static const double grid_scale = 0x1p31;

struct first_pass {
    double sum, min, max;
};

/* The lanes are written out so that the order of the additions, and with it the result, does not depend on the
 * compiler. */
LDS_HOT static struct first_pass pass_one(const double *x, size_t n)
{
    lds_four sum[FOURS] = {{0}}, min[FOURS], max[FOURS];
    for (size_t k = 0; k < FOURS; k++)
        min[k] = max[k] = x[0] + sum[k];
    size_t i = 0;
    for (; i + LANES <= n; i += LANES)
        for (size_t k = 0; k < FOURS; k++) {
            lds_four v = ((const lds_four *)(x + i))[k];
            sum[k] += v;
            min[k] = lds_four_choose(v < min[k], v, min[k]);
            max[k] = lds_four_choose(v > max[k], v, max[k]);
        }
    struct first_pass pass = {0.0, x[0], x[0]};
    for (; i < n; i++) {
        pass.sum += x[i];
        pass.min = x[i] < pass.min ? x[i] : pass.min;
        pass.max = x[i] > pass.max ? x[i] : pass.max;
    }
    for (size_t k = 0; k < LANES; k++) {
        pass.sum += sum[k / 4][k % 4];
        pass.min = min[k / 4][k % 4] < pass.min ? min[k / 4][k % 4] : pass.min;
        pass.max = max[k / 4][k % 4] > pass.max ? max[k / 4][k % 4] : pass.max;
    }
    return pass;
}

struct second_pass {
    double squares; /* about the block's mean */
    double cubes;   /* about zero */
};

LDS_HOT static struct second_pass pass_two(const double *x, size_t n, double mean)
{
    lds_four squares[FOURS] = {{0}}, cubes[FOURS] = {{0}};
    size_t i = 0;
    for (; i + LANES <= n; i += LANES)
        for (size_t k = 0; k < FOURS; k++) {
            lds_four v = ((const lds_four *)(x + i))[k], d = v - mean;
            squares[k] += d * d;
            cubes[k] += v * v * v;
        }
    struct second_pass pass = {0};
    for (; i < n; i++) {
        double d = x[i] - mean;
        pass.squares += d * d;
        pass.cubes += x[i] * x[i] * x[i];
    }
    for (size_t k = 0; k < LANES; k++) {
        pass.squares += squares[k / 4][k % 4];
        pass.cubes += cubes[k / 4][k % 4];
    }
    return pass;
}

/* Bitwise or of all samples as multiples of 2^-31; *off is nonzero when a sample is not a multiple. All are in [-1,
 * 1). */
LDS_HOT static uint32_t pass_grid(const double *x, size_t n, double *off)
{
    uint32_t bits[LANES] = {0};
    double away[LANES] = {0};
    size_t i = 0;
    for (; i + LANES <= n; i += LANES)
        for (size_t k = 0; k < LANES; k++) {
            double scaled = x[i + k] * grid_scale;
            int32_t whole = (int32_t)scaled;
            bits[k] |= (uint32_t)whole;
            away[k] += fabs(scaled - (double)whole);
        }
    uint32_t all = 0;
    double sum = 0.0;
    for (; i < n; i++) {
        int32_t whole = (int32_t)(x[i] * grid_scale);
        all |= (uint32_t)whole;
        sum += fabs(x[i] * grid_scale - (double)whole);
    }
    for (size_t k = 0; k < LANES; k++) {
        all |= bits[k];
        sum += away[k];
    }
    *off = sum;
    return all;
}

/* The same for samples of any size, one at a time: floating point beyond full scale. */
static uint64_t pass_wide_grid(const double *x, size_t n, double *off)
{
    uint64_t all = 0;
    *off = 0.0;
    for (size_t i = 0; i < n && *off == 0.0; i++) {
        double scaled = x[i] * grid_scale;
        if (fabs(scaled) > 0x1p62 || scaled != rint(scaled))
            *off = 1.0;
        else
            all |= (uint64_t)(int64_t)scaled;
    }
    return all;
}

static void find_grid(struct lds_health_sums *sums, const struct lds_health_block *block)
{
    double off;
    if (block->min >= -1.0 && block->max < 1.0)
        sums->grid_bits |= pass_grid(block->x, block->n, &off);
    else
        sums->grid_bits |= pass_wide_grid(block->x, block->n, &off);
    if (off > 0.0)
        sums->grid = false;
}

static void find_step(struct lds_health_sums *sums, const struct lds_health_block *block)
{
    double step = sums->step;
    for (size_t i = 1; i < block->n; i++) {
        double d = fabs(block->x[i] - block->x[i - 1]);
        step = d > 0.0 && d < step ? d : step;
    }
    sums->step = step;
}

/* Neumaier 1974: the rounding error of each addition is summed separately. */
static void add(double *sum, double *lost, double value)
{
    double total = *sum + value;
    *lost += fabs(*sum) >= fabs(value) ? (*sum - total) + value : (value - total) + *sum;
    *sum = total;
}

void lds_health_sums_start(struct lds_health_sums *sums, bool has_grid)
{
    *sums = (struct lds_health_sums){.min = INFINITY, .max = -INFINITY, .grid = has_grid, .step = INFINITY};
}

void lds_health_sums_block(struct lds_health_sums *sums, struct lds_health_block *block)
{
    const double n = (double)sums->n, m = (double)block->n;
    struct first_pass one = pass_one(block->x, block->n);
    double mean = one.sum / m;
    struct second_pass two = pass_two(block->x, block->n, mean);
    block->min = one.min;
    block->max = one.max;
    sums->min = fmin(sums->min, one.min);
    sums->max = fmax(sums->max, one.max);
    /* Chan, Golub and LeVeque 1983, pairwise union of two sums of squares about their means. */
    double apart = mean - sums->mean;
    sums->squares += two.squares + apart * apart * n * m / (n + m);
    sums->mean += apart * m / (n + m);
    sums->n += (int64_t)block->n;
    add(&sums->sum, &sums->sum_lost, one.sum);
    add(&sums->cubes, &sums->cubes_lost, two.cubes);
    if (sums->grid)
        find_grid(sums, block);
    int64_t number = block->start / LDS_HEALTH_BLOCK;
    if (number < STEP_FIRST || number % STEP_EVERY == 0)
        find_step(sums, block);
}

double lds_health_sums_mean(const struct lds_health_sums *sums)
{
    return (sums->sum + sums->sum_lost) / (double)sums->n;
}

/* Weight of the lowest bit in use, as a power of 2 of 2^-31. */
static int lowest_bit(const struct lds_health_sums *sums)
{
    return __builtin_ctzll(sums->grid_bits);
}

int lds_health_sums_bits(const struct lds_health_sums *sums)
{
    if (!sums->grid || sums->grid_bits == 0)
        return 0;
    int beyond = 0; /* bits above full scale: floating point that holds whole numbers */
    double peak = fmax(sums->max, -sums->min);
    if (peak > 1.0)
        frexp(peak, &beyond);
    return 32 - lowest_bit(sums) + beyond;
}

double lds_health_sums_quantum(const struct lds_health_sums *sums, double value)
{
    /* 2^-23 is one unit in the last place of single precision, the least that floating point files resolve. */
    double quantum = fabs(value) * 0x1p-23;
    if (sums->grid && sums->grid_bits)
        quantum = ldexp(1.0, lowest_bit(sums) - 31);
    return isfinite(sums->step) && sums->step > quantum ? sums->step : quantum;
}
