#include "capture/csv_parts.h"

#include <errno.h>
#include <gsl/gsl_sort.h>
#include <math.h>
#include <stdbool.h>
#include <stdlib.h>
#include <unistd.h>

enum { BLOCK = 4096 };

/* The time of a row may be off by this share of a step: common practice, no source. A lost or doubled row is off by a
 * whole step. */
static const double tolerance_steps = 0.25;

static int read_block(int fd, int64_t first, int64_t count, struct lds_instant *block)
{
    size_t bytes = (size_t)count * sizeof *block, done = 0;
    while (done < bytes) {
        ssize_t got = pread(fd, (char *)block + done, bytes - done, first * (int64_t)sizeof *block + (int64_t)done);
        if (got < 0 && errno == EINTR)
            continue;
        if (got <= 0)
            return got < 0 ? errno : EIO;
        done += (size_t)got;
    }
    return 0;
}

/* How far a time may be off because of how it is written: half of its last digit, or half a unit in the last place of a
 * single-precision number converted to text. */
static double written_error(struct lds_instant instant)
{
    return 0.5 * instant.quantum + fabs(instant.s) * 0x1p-24;
}

/* The median step among the first rows, which is the usual one even if a fault comes early. NAN if the digits written
 * do not resolve it. */
static double median_step(const struct lds_instant *block, int64_t count)
{
    _Static_assert(BLOCK >= 2, "a step needs two rows");
    double *step = malloc((size_t)(count - 1) * sizeof *step);
    if (!step)
        return NAN;
    for (int64_t i = 1; i < count; i++)
        step[i - 1] = block[i].s - block[i - 1].s;
    gsl_sort(step, 1, (size_t)(count - 1));
    double median = step[(count - 1) / 2];
    free(step);
    double error = written_error(block[count / 2]);
    return error < 0.125 * median ? median : NAN;
}

struct fit {
    double mean_i, mean_t, slope, quantum;
};

/* Least-squares line of time over row number. Rows are counted from their middle and times from the first one; the sums
 * of each block are merged with the rest by the pairwise formulas of Chan, Golub and LeVeque (1983). */
static int fit_line(int fd, int64_t count, struct lds_instant *block, struct fit *fit)
{
    double n = 0.0, mean_i = 0.0, mean_t = 0.0, sum_ii = 0.0, sum_it = 0.0, quanta = 0.0;
    for (int64_t first = 0; first < count; first += BLOCK) {
        int64_t held = count - first < BLOCK ? count - first : BLOCK;
        int failed = read_block(fd, first, held, block);
        if (failed)
            return failed;
        double m = (double)held, middle = 0.5 * (m - 1.0), offset = 0.0, it = 0.0;
        for (int64_t k = 0; k < held; k++)
            offset += block[k].s - block[0].s;
        offset /= m;
        for (int64_t k = 0; k < held; k++) {
            it += ((double)k - middle) * (block[k].s - block[0].s - offset);
            quanta += block[k].quantum;
        }
        double block_i = (double)first + middle, block_t = block[0].s + offset;
        double di = block_i - mean_i, dt = block_t - mean_t, both = n + m;
        sum_ii += m * (m * m - 1.0) / 12.0 + di * di * n * m / both;
        sum_it += it + di * dt * n * m / both;
        mean_i += di * m / both;
        mean_t += dt * m / both;
        n = both;
    }
    *fit = (struct fit){mean_i, mean_t, sum_it / sum_ii, quanta / n};
    return 0;
}

struct check {
    double step; /* usual step, s */
    const struct fit *fit;
    struct lds_instant last;
    int64_t off_line; /* the first row that is off the line through all rows; reported only when no step is wrong, which
                       * could be the cause */
};

static void check_row(struct check *check, int64_t row, struct lds_instant instant, struct lds_steady *steady)
{
    double line = check->fit->mean_t + check->fit->slope * ((double)row - check->fit->mean_i);
    double error = written_error(instant);
    if (check->off_line < 0 && fabs(instant.s - line) > tolerance_steps * fabs(check->fit->slope) + 2.0 * error)
        check->off_line = row;
    double step = instant.s - check->last.s;
    double allowed = tolerance_steps * fabs(check->step) + error + written_error(check->last);
    if (row > 0 && fabs(step - check->step) > allowed) {
        steady->unsteady_row = row;
        steady->found_s = step;
        steady->expected_s = check->step;
    }
    check->last = instant;
}

/* The rate rounded to whole hertz, when the digits written allow no better: each end of the line is known to within the
 * last digit, and arithmetic to 1e-9 at best. */
static double round_rate(double rate_hz, const struct fit *fit, int64_t count)
{
    double uncertain_hz = rate_hz * fit->quantum * rate_hz / (double)(count - 1);
    double off_hz = fabs(rate_hz - round(rate_hz));
    bool written_so = uncertain_hz < 0.5 && off_hz <= uncertain_hz;
    return written_so || off_hz < 1e-9 * rate_hz ? round(rate_hz) : rate_hz;
}

static int check_rows(int fd, int64_t count, struct lds_instant *block, struct lds_steady *steady)
{
    struct fit fit;
    int failed = fit_line(fd, count, block, &fit);
    if (failed)
        return failed;
    int64_t held = count < BLOCK ? count : BLOCK;
    failed = read_block(fd, 0, held, block);
    if (failed)
        return failed;
    double usual = median_step(block, held);
    struct check check = {.step = isnan(usual) ? fit.slope : usual, .fit = &fit, .off_line = -1};
    steady->rate_hz = round_rate(1.0 / fit.slope, &fit, count);
    steady->unsteady_row = -1;
    steady->found_s = steady->expected_s = NAN;
    for (int64_t first = 0; first < count && steady->unsteady_row < 0; first += BLOCK) {
        held = count - first < BLOCK ? count - first : BLOCK;
        failed = read_block(fd, first, held, block);
        if (failed)
            return failed;
        for (int64_t k = 0; k < held && steady->unsteady_row < 0; k++)
            check_row(&check, first + k, block[k], steady);
    }
    if (steady->unsteady_row < 0)
        steady->unsteady_row = check.off_line;
    return 0;
}

int lds_steady_check(int fd, int64_t count, struct lds_steady *steady)
{
    struct lds_instant *block = malloc(BLOCK * sizeof *block);
    if (!block)
        return ENOMEM;
    int failed = check_rows(fd, count, block, steady);
    free(block);
    return failed;
}
