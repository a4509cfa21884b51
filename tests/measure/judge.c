#include "measure/judge.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>
#include <gsl/gsl_cdf.h>

static const double OVERLAP_C = 1.046; /* docs/figures.md: the analysis window overlapping by three quarters */
enum { BLOCKS = 8, TESTS_MAX = 256 };

double judge_band_dof(double seconds, double low_hz, double high_hz, double (*density)(double, const void *),
                      const void *context, double (*weighting_db)(double))
{
    enum { STEPS = 4000 };
    double sum = 0.0, squares = 0.0;
    const double width = (high_hz - low_hz) / STEPS;
    for (int i = 0; i < STEPS; i++) {
        const double f = low_hz + (i + 0.5) * width;
        const double w = weighting_db ? pow(10.0, 0.1 * weighting_db(f)) : 1.0;
        const double s = w * (density ? density(f, context) : 1.0);
        sum += s * width;
        squares += s * s * width;
    }
    return 2.0 * seconds * sum * sum / squares / OVERLAP_C;
}

struct judged *judge_row(struct scene *scene, const char *key)
{
    for (size_t i = 0; i < scene->rows; i++)
        if (strcmp(scene->row[i].key, key) == 0)
            return &scene->row[i];
    fprintf(stderr, "scene %s: no row %s\n", scene->name, key);
    exit(1);
}

void judge_truth(struct scene *scene, const char *key, double truth)
{
    judge_row(scene, key)->truth = truth;
}

/* ---- captures ---- */

static double coverage(double dof)
{
    return isfinite(dof) ? gsl_cdf_tdist_Qinv(0.025, dof) : gsl_cdf_ugaussian_Qinv(0.025);
}

static void take_dof(struct judged *row, const struct lds_figure *figure)
{
    const bool infinite = isinf(figure->dof);
    if (figure->flags & LDS_FLAG_UNSTEADY) {
        row->unsteady++;
        row->odd_dof += figure->dof != BLOCKS - 1;
    } else if (infinite) {
        row->odd_dof += row->dof > 0.0 && !row->or_infinite;
    } else {
        row->finite++;
        row->dof_sum += figure->dof;
        row->odd_dof += row->dof == 0.0;
    }
}

/* Truth and closed form are amplitudes, even for a ratio. */
static void take_limit(struct judged *row, const struct lds_figure *figure)
{
    if (!figure || !isnan(figure->value) || !(figure->flags & LDS_FLAG_BELOW_FLOOR) || isnan(figure->high)) {
        row->missing++;
        return;
    }
    row->seen++;
    const bool db = strcmp(figure->unit, "dB") == 0;
    const double high = db ? pow(10.0, figure->high / 20.0) : figure->high;
    row->held += row->truth <= high;
    row->error_sum += 20.0 * log10(high / row->u);
}

static void take(struct judged *row, const struct lds_figure *figure)
{
    if (row->kind == JUDGED_LIMIT) {
        take_limit(row, figure);
        return;
    }
    if (!figure || isnan(figure->value)) {
        row->missing++;
        return;
    }
    row->seen++;
    const double error = figure->value - row->truth, half = 0.5 * (figure->high - figure->low);
    const double u_b = isnan(figure->u_b) ? 0.0 : figure->u_b;
    const double u = isnan(figure->u_a) ? half / coverage(INFINITY) : hypot(figure->u_a, u_b);
    row->error_sum += error;
    row->error_squares += error * error;
    row->error_most = fmax(row->error_most, fabs(error));
    row->u_squares += u * u;
    row->u_ratio += u / row->u;
    row->half_ratio += half / (coverage(figure->dof) * u);
    row->held += figure->low - row->bias <= row->truth && row->truth <= figure->high + row->bias;
    take_dof(row, figure);
}

void judge_capture(struct scene *scene, const struct lds_measurement *measurement)
{
    for (size_t i = 0; i < scene->rows; i++) {
        struct judged *row = &scene->row[i];
        struct lds_figure line;
        if (judge_line(measurement, row, &line))
            take(row, &line);
        else if (row->pair)
            take(row, measurement->pairs ? lds_pair_figure(&measurement->pair[0], row->key) : NULL);
        else
            take(row, lds_channel_figure(&measurement->channel[row->channel], row->key));
    }
}

/* ---- verdicts ---- */

static void within(const struct judged *row, const char *what, double value, double low, double high)
{
    if (getenv("JUDGE_SHOW"))
        print_message("%-28s %-34s %12.6g  %.6g..%.6g\n", row->key, what, value, low, high);
    else if (!(value >= low && value <= high))
        fail_msg("%s: %s is %.6g, not within %.6g to %.6g (%d captures)", row->key, what, value, low, high, row->seen);
}

static double limit(const double limits[2], int i, double otherwise)
{
    return limits[1] > 0.0 ? limits[i] : otherwise;
}

/* The mean error must be explained by scatter, and intervals must hold the truth 19 times in 20, with three standard
 * deviations allowed for chance. */
static void verdict_of_value(const struct judged *row)
{
    const double n = row->seen, mean = row->error_sum / n;
    const double sd = n > 1.0 ? sqrt(fmax(0.0, row->error_squares - n * mean * mean) / (n - 1.0)) : 0.0;
    within(row, "captures without it", row->missing, 0.0, 0.0);
    if (row->kind == JUDGED_LIMIT) {
        within(row, "upper limits that hold the truth", row->held, floor(0.95 * n - 3.0 * sqrt(0.0475 * n)), n);
        within(row, "upper limit over its closed form, dB", mean, -row->bias, row->bias);
        return;
    }
    if (row->kind == JUDGED_EXACT) {
        within(row, "the largest error", row->error_most, 0.0, fmax(row->bias, 1e-9 * fabs(row->truth)));
        return;
    }
    const double room = row->bias + 4.0 * sd / sqrt(n);
    within(row, "the mean error", mean, -room, room);
    if (row->kind == JUDGED_BARE)
        return;
    if (row->kind != JUDGED_OPEN)
        within(row, "intervals that hold the truth", row->held, floor(0.95 * n - 3.0 * sqrt(0.0475 * n)), n);
    if (row->kind == JUDGED_CLOSED)
        within(row, "uncertainty over its closed form", row->u_ratio / n, 0.85, 1.18);
    if (row->kind == JUDGED_SCATTER || row->kind == JUDGED_OPEN || row->spread[1] > 0.0)
        within(row, "scatter over uncertainty", sd / sqrt(row->u_squares / n), limit(row->spread, 0, 0.72),
               limit(row->spread, 1, 1.4));
}

static void verdict_of_interval(const struct judged *row)
{
    const double n = row->seen;
    if (row->kind == JUDGED_BARE || row->kind == JUDGED_LIMIT)
        return;
    if (row->kind == JUDGED_EXACT) {
        within(row, "intervals that hold the truth", row->held, n, n);
        within(row, "uncertainty", row->u_squares, 0.0, 0.0);
    } else if (row->kind != JUDGED_OPEN) {
        within(row, "half interval over uncertainty", row->half_ratio / n, limit(row->width, 0, 0.9),
               limit(row->width, 1, 1.12));
    }
    within(row, "captures of unsteady noise", row->unsteady, 0.0, 1.0 + 0.05 * n);
    within(row, "captures with odd degrees of freedom", row->odd_dof, 0.0, 0.0);
    if (row->finite > 0)
        within(row, "degrees of freedom over theirs", row->dof_sum / row->finite / row->dof, limit(row->share, 0, 0.7),
               limit(row->share, 1, 1.15));
}

/* ---- the program ---- */

struct test {
    struct scene *scene;
    struct judged *row;
};

static void judge_row_test(void **state)
{
    const struct test *test = *state;
    struct scene *scene = test->scene;
    bool fresh = true;
    for (size_t i = 0; i < scene->rows; i++)
        fresh = fresh && scene->row[i].seen + scene->row[i].missing == 0;
    if (fresh)
        scene->run(scene);
    assert_true(test->row->seen + test->row->missing > 0);
    verdict_of_value(test->row);
    verdict_of_interval(test->row);
}

static int list(const struct test *tests, size_t count)
{
    for (size_t i = 0; i < count; i++)
        puts(tests[i].row->key);
    return 0;
}

static int list_keys(void)
{
    size_t count;
    const struct lds_key *keys = lds_keys(&count);
    for (size_t i = 0; i < count; i++)
        puts(keys[i].stem);
    return 0;
}

int judge_main(int argc, char **argv, struct scene *scenes, size_t count)
{
    static struct test tests[TESTS_MAX];
    static struct CMUnitTest units[TESTS_MAX];
    const char *only = argc > 2 && strcmp(argv[1], "--only") == 0 ? argv[2] : NULL;
    size_t used = 0;
    for (size_t i = 0; i < count; i++)
        for (size_t r = 0; r < scenes[i].rows && used < TESTS_MAX; r++) {
            if (only && strcmp(only, scenes[i].row[r].key) != 0)
                continue;
            tests[used] = (struct test){&scenes[i], &scenes[i].row[r]};
            units[used] = (struct CMUnitTest){tests[used].row->key, judge_row_test, NULL, NULL, &tests[used]};
            used++;
        }
    if (argc == 2 && strcmp(argv[1], "--list") == 0)
        return list(tests, used);
    if (argc == 2 && strcmp(argv[1], "--keys") == 0)
        return list_keys();
    return used == 0 ? 0 : _cmocka_run_group_tests("figures", units, used, NULL, NULL);
}
