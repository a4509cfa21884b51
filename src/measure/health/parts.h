/* The parts of capture health. Each goes through the same blocks of one channel, in order. */
#ifndef LDS_MEASURE_HEALTH_PARTS_H
#define LDS_MEASURE_HEALTH_PARTS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "measure/health/health.h"

enum { LDS_HEALTH_BLOCK = 4096, LDS_HEALTH_AROUND = 512 };

/* x[0..n) are the block; x[-before..0) and x[n..n + ahead) can be read too. All but the last blocks of a capture are
 * LDS_HEALTH_BLOCK long and have LDS_HEALTH_AROUND ahead. */
struct lds_health_block {
    const double *x;
    size_t n, before, ahead;
    int64_t start; /* sample number of x[0] */
    double min, max;
};

/* The first LDS_HEALTH_LISTED faults of a kind, and how many there were. */
struct lds_fault_list {
    int64_t total;
    size_t listed;
    struct {
        int64_t start, length;
    } fault[LDS_HEALTH_LISTED];
};
void lds_fault_add(struct lds_fault_list *list, int64_t start, int64_t length);

/* ---- sums (health_sums.c) ---- */
struct lds_health_sums {
    int64_t n;
    double min, max;
    double sum, sum_lost; /* compensated */
    double cubes, cubes_lost;
    double mean, squares; /* running mean, and sum of squares about it */
    bool grid;            /* all samples so far are multiples of 2^-31 */
    uint64_t grid_bits;   /* bitwise or of the samples as multiples of 2^-31 */
    double step;          /* smallest difference of neighbours so far that is not 0; INFINITY: none yet */
};
void lds_health_sums_start(struct lds_health_sums *sums, bool has_grid);
/* Also sets block->min and max. */
void lds_health_sums_block(struct lds_health_sums *sums, struct lds_health_block *block);
double lds_health_sums_mean(const struct lds_health_sums *sums);
/* Bits actually used, 0 when there is no grid. */
int lds_health_sums_bits(const struct lds_health_sums *sums);
/* The step between sample values near this one: the change that quantisation alone can make. */
double lds_health_sums_quantum(const struct lds_health_sums *sums, double value);

/* ---- runs of equal samples (health_runs.c) ---- */
enum { LDS_RUN_CONTEXT = 128 };
struct lds_run_watch {
    double low, high; /* samples in [low, high] belong to a run */
    bool open;
    int64_t start;
    size_t before_count;
    double before[LDS_RUN_CONTEXT]; /* samples before the run, nearest first */
    struct lds_fault_list list;
};
struct lds_health_runs {
    int bits;
    bool full_scale;                  /* 1.0 is full scale */
    struct lds_run_watch top, bottom; /* full scale */
    struct lds_run_watch high, low;   /* the largest and smallest sample so far */
    struct lds_run_watch zero;
};
void lds_health_runs_start(struct lds_health_runs *runs, int bits, bool in_volts);
void lds_health_runs_block(struct lds_health_runs *runs, const struct lds_health_sums *sums,
                           const struct lds_health_block *block);
/* Ends the runs that are open at the end of the capture. */
void lds_health_runs_finish(struct lds_health_runs *runs, const struct lds_health_sums *sums, int64_t end);

/* ---- repeated blocks (health_repeats.c) ---- */
struct lds_health_repeats;
struct lds_health_repeats *lds_health_repeats_new(void);
void lds_health_repeats_block(struct lds_health_repeats *repeats, const struct lds_health_block *block);
const struct lds_fault_list *lds_health_repeats_finish(struct lds_health_repeats *repeats);
void lds_health_repeats_free(struct lds_health_repeats *repeats);

#endif
