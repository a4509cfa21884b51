/* Turns figures of many captures into series over time. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "compare/statistics.h"
#include "grow.h"
#include "job/tone.h"
#include "ledger/history.h"

/* Unknown equals unknown; else within 1 %, as the edges that a capture covers depend on its rate. */
static bool near(double one, double other)
{
    return isnan(one) || isnan(other) ? isnan(one) && isnan(other) : fabs(one - other) <= 0.01 * fabs(one);
}

bool lds_series_alike(const struct lds_ledger_series *one, const struct lds_ledger_series *other)
{
    return one->role == other->role && one->channel == other->channel && one->other == other->other &&
           near(one->power_w, other->power_w) && near(one->load_ohm, other->load_ohm) &&
           lds_same_tone(one->tone_hz, other->tone_hz) && near(one->rate_hz, other->rate_hz) &&
           near(one->band_hz[0], other->band_hz[0]) && near(one->band_hz[1], other->band_hz[1]) &&
           one->orders[0] == other->orders[0] && one->orders[1] == other->orders[1] &&
           strcmp(one->key, other->key) == 0 && strcmp(one->unit, other->unit) == 0;
}

static struct lds_ledger_series describe(const struct lds_kept *kept, const struct lds_kept_figure *figure)
{
    const struct lds_ledger_capture *capture = &kept->history->job[figure->job].capture[figure->capture];
    bool power = capture->role->power;
    struct lds_ledger_series series = {
        .key = figure->figure.key,
        .role = capture->role,
        .power_w = power ? capture->power_w : (double)NAN,
        .load_ohm = power ? capture->load_ohm : (double)NAN,
        .tone_hz = capture->role->tone ? capture->tone_hz : (double)NAN,
        .rate_hz = capture->rate_hz,
        .channel = figure->channel,
        .other = figure->other,
        .band_hz = {figure->figure.band_hz[0], figure->figure.band_hz[1]},
        .orders = {figure->figure.orders[0], figure->figure.orders[1]},
        .main = lds_figure_in_history(&figure->figure.name),
        .name = figure->figure.name,
    };
    memcpy(series.unit, figure->figure.unit, sizeof series.unit);
    return series;
}

static struct lds_ledger_series *find_or_add(struct lds_ledger_history *history, const struct lds_ledger_series *wanted)
{
    for (size_t i = 0; i < history->series; i++)
        if (lds_series_alike(&history->serie[i], wanted))
            return &history->serie[i];
    char *key = strdup(wanted->key);
    struct lds_ledger_series *series = key ? lds_grow(&history->serie, &history->series, sizeof *series) : NULL;
    if (!series) {
        free(key);
        return NULL;
    }
    *series = *wanted;
    series->key = key;
    return series;
}

static struct lds_ledger_point *find_or_add_point(struct lds_ledger_series *series, size_t job, enum lds_when when)
{
    for (size_t i = 0; i < series->points; i++)
        if (series->point[i].job == job && series->point[i].when == when)
            return &series->point[i];
    struct lds_ledger_point *point = lds_grow(&series->point, &series->points, sizeof *point);
    if (point)
        *point = (struct lds_ledger_point){.job = job, .when = when, .value = NAN, .low = NAN, .high = NAN};
    return point;
}

/* Captures of one job and side, while they are merged into a point. */
struct repeats {
    size_t count, known;
    double *value;
    double low, high;
    bool open_low, open_high; /* a repeat whose limit is not known */
    unsigned flags;
};

static void add_repeat(struct repeats *repeats, const struct lds_figure *figure)
{
    if (isfinite(figure->value))
        repeats->value[repeats->known++] = figure->value;
    repeats->open_low = repeats->open_low || isnan(figure->low);
    repeats->open_high = repeats->open_high || isnan(figure->high);
    repeats->low = fmin(repeats->low, figure->low);
    repeats->high = fmax(repeats->high, figure->high);
    repeats->flags |= figure->flags;
    repeats->count++;
}

static void fill_point(const struct lds_kept *kept, size_t series, struct lds_ledger_point *point, double *scratch)
{
    struct repeats repeats = {.value = scratch, .low = INFINITY, .high = -INFINITY};
    for (size_t i = 0; i < kept->figures; i++) {
        const struct lds_kept_figure *figure = &kept->figure[i];
        if (figure->series == series && figure->job == point->job &&
            kept->history->job[figure->job].capture[figure->capture].when == point->when)
            add_repeat(&repeats, &figure->figure);
    }
    point->captures = repeats.count;
    point->flags = repeats.flags;
    point->value = lds_median_of(repeats.value, repeats.known);
    point->low = repeats.open_low ? (double)NAN : repeats.low;
    point->high = repeats.open_high ? (double)NAN : repeats.high;
}

static int order(double one, double other)
{
    if (isnan(one) || isnan(other))
        return (isnan(one) ? 1 : 0) - (isnan(other) ? 1 : 0);
    return (one > other) - (one < other);
}

static int compare_series(const void *a, const void *b)
{
    const struct lds_ledger_series *one = a, *other = b;
    const struct lds_key *row_one = one->name.row, *row_other = other->name.row;
    const int by[] = {(int)(one->role - other->role),
                      order(one->power_w, other->power_w),
                      order(one->load_ohm, other->load_ohm),
                      order(one->tone_hz, other->tone_hz),
                      order(one->rate_hz, other->rate_hz),
                      (one->other > 0) - (other->other > 0), /* pairs after channels */
                      one->channel - other->channel,
                      one->other - other->other,
                      (row_one > row_other) - (row_one < row_other), /* the table is in order */
                      order(one->band_hz[0], other->band_hz[0]),
                      order(one->band_hz[1], other->band_hz[1]),
                      strcmp(one->key, other->key),
                      one->orders[1] - other->orders[1],
                      strcmp(one->unit, other->unit)};
    for (size_t i = 0; i < sizeof by / sizeof by[0]; i++)
        if (by[i] != 0)
            return by[i];
    return 0;
}

/* Jobs are in order of date already; captures without a side go between before and after. */
static int compare_points(const void *a, const void *b)
{
    const struct lds_ledger_point *one = a, *other = b;
    static const int place[] = {[LDS_WHEN_BEFORE] = 0, [LDS_WHEN_ANY] = 1, [LDS_WHEN_AFTER] = 2};
    int by_job = (one->job > other->job) - (one->job < other->job);
    return by_job ? by_job : place[one->when] - place[other->when];
}

static const char *name_of(const struct lds_ledger_capture *capture, int channel, const char *otherwise)
{
    for (size_t i = 0; i < capture->names; i++)
        if (capture->channel_name[i].channel == channel)
            return capture->channel_name[i].name;
    return otherwise;
}

/* Figures come in the order of their jobs, so the latest names remain. */
static void name_channels(struct lds_ledger_series *series, const struct lds_ledger_capture *capture)
{
    series->channel_name = name_of(capture, series->channel, series->channel_name);
    series->other_name = name_of(capture, series->other, series->other_name);
}

void lds_series_make(struct lds_ledger *ledger, struct lds_kept *kept)
{
    struct lds_ledger_history *history = kept->history;
    double *scratch = malloc((kept->figures + 1) * sizeof *scratch);
    if (!scratch)
        lds_sql_no_memory(ledger);
    for (size_t i = 0; !ledger->status && i < kept->figures; i++) {
        struct lds_kept_figure *figure = &kept->figure[i];
        struct lds_ledger_series wanted = describe(kept, figure);
        struct lds_ledger_series *series = find_or_add(history, &wanted);
        const struct lds_ledger_capture *capture = &history->job[figure->job].capture[figure->capture];
        figure->series = series ? (size_t)(series - history->serie) : 0;
        if (series && find_or_add_point(series, figure->job, capture->when))
            name_channels(series, capture);
        else
            lds_sql_no_memory(ledger);
    }
    for (size_t i = 0; !ledger->status && i < history->series; i++) {
        struct lds_ledger_series *series = &history->serie[i];
        qsort(series->point, series->points, sizeof *series->point, compare_points);
        for (size_t k = 0; k < series->points; k++)
            fill_point(kept, i, &series->point[k], scratch);
    }
    if (!ledger->status && history->series > 0)
        qsort(history->serie, history->series, sizeof *history->serie, compare_series);
    free(scratch);
}

const struct lds_ledger_point *lds_series_latest(const struct lds_ledger_series *series)
{
    return series->points > 0 ? &series->point[series->points - 1] : NULL;
}
