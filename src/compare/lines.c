/* Single lines on both sides: harmonics and mains orders by their order, products of two tones by their name, other
 * lines by frequency. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "compare/work.h"
#include "constants.h"
#include "grow.h"
#include "measure/statistics/uncertainty.h"

static const double CLOCKS_PPM = 200.0;  /* clocks of two captures, +-100 ppm each (common practice, no source) */
static const double WINDOW_LOSS = 1.5;   /* S/T of a line's noise holds for the whole capture without weighting; the
                                          * averaged spectrum from which spurs are read is not quite as good */
static const double SPUR_U_DB = 0.1;     /* from reading a peak between bins */
static const double MAINS_SAME_HZ = 0.6; /* public mains does not wander by more between captures */

struct line_question {
    struct lds_work *work;
    struct lds_part *part;
    const struct lds_chosen *chosen;
    const struct lds_series_kind *kind;
    const struct lds_key *like; /* its rules of pairing and judging apply to the lines */
    int order;
    const char *name; /* of lines that are matched by it; else "" */
    double frequency_hz;
};

static struct lds_reading unread(void)
{
    return (struct lds_reading){.value = NAN, .limit = NAN, .dof = INFINITY};
}

static bool is_read(const struct lds_reading *reading)
{
    return !isnan(reading->value) || !isnan(reading->limit);
}

/* ---- other lines ---- */

static double tolerance_hz(const struct lds_measurement *capture, double frequency_hz)
{
    double bin_hz = capture->window_s > 0.0 ? 1.0 / capture->window_s : 3.0;
    return bin_hz + CLOCKS_PPM * 1e-6 * frequency_hz;
}

/* Noise density (power) at a frequency, NAN where the capture does not reach it. */
static double density_at(const struct lds_channel *channel, double frequency_hz)
{
    const struct lds_series *floor = lds_channel_find_series(channel, LDS_SERIES_FLOOR);
    for (size_t i = 0; i < floor->rows; i++) {
        int column = lds_series_value(floor, i, LDS_FLOOR_DOF) > 0.0 ? LDS_FLOOR_MEAN : LDS_FLOOR_DENSITY;
        double level = lds_series_value(floor, i, column);
        if (frequency_hz >= lds_series_value(floor, i, LDS_FLOOR_LOW_HZ) &&
            frequency_hz < lds_series_value(floor, i, LDS_FLOOR_HIGH_HZ))
            return level * level;
    }
    return NAN;
}

/* Standard deviation of a line's rms level in noise of density S over T seconds: sqrt(S/2T). */
static double line_u(const struct lds_seen *seen, double frequency_hz)
{
    return sqrt(WINDOW_LOSS * density_at(seen->channel, frequency_hz) / (2.0 * seen->capture->seconds));
}

/* A spur of a capture. */
struct spur {
    double frequency_hz, level, margin_db;
    const char *origin; /* NULL: there is none */
};

static struct spur spur_of(const struct lds_series *spurs, size_t row)
{
    return (struct spur){lds_series_value(spurs, row, LDS_SPUR_HZ), lds_series_value(spurs, row, LDS_SPUR_LEVEL),
                         lds_series_value(spurs, row, LDS_SPUR_MARGIN), spurs->text[row]};
}

static struct spur spur_at(const struct lds_seen *seen, double frequency_hz)
{
    const struct lds_series *spurs = lds_seen_series(seen, lds_series_kind_of(LDS_SERIES_SPURS));
    struct spur nearest = {NAN, NAN, NAN, NULL};
    double least = tolerance_hz(seen->capture, frequency_hz);
    for (size_t i = 0; i < spurs->rows; i++) {
        double distance = fabs(lds_series_value(spurs, i, LDS_SPUR_HZ) - frequency_hz);
        if (distance <= least) {
            least = distance;
            nearest = spur_of(spurs, i);
        }
    }
    return nearest;
}

static struct lds_reading read_spur(const struct lds_seen *seen, const struct spur *spur)
{
    struct lds_reading reading;
    double u = hypot(line_u(seen, spur->frequency_hz), spur->level * SPUR_U_DB * M_LN10 / 20.0);
    lds_reading_take_line(
        (struct lds_cell){spur->level, spur->level - LDS_COVERAGE * u, spur->level + LDS_COVERAGE * u}, &reading);
    return reading;
}

/* A detected line of another kind at a frequency: a mains order in one capture may be an unnamed line in another in
 * which no comb was found. */
static struct lds_reading read_named(const struct lds_seen *seen, double frequency_hz)
{
    static const enum lds_series_id named[] = {LDS_SERIES_MAINS, LDS_SERIES_HARMONICS};
    struct lds_reading reading = unread();
    double least = tolerance_hz(seen->capture, frequency_hz);
    for (int k = 0; k < 2; k++) {
        const struct lds_series *lines = lds_seen_series(seen, lds_series_kind_of(named[k]));
        for (size_t i = 0; i < lines->rows; i++) {
            struct lds_cell level = lds_series_cell(lines, i, LDS_LINE_LEVEL);
            if (!isnan(level.value) && fabs(lds_series_value(lines, i, LDS_LINE_HZ) - frequency_hz) <= least)
                lds_reading_take_line(level, &reading);
        }
    }
    return reading;
}

/* For a capture that shows nothing at a spur of another capture: the level at which it would have been found, from that
 * capture's own margin and the ratio of floors and lengths; plus 1.96 standard deviations. */
static struct lds_reading read_nothing(const struct lds_seen *seen, const struct lds_seen *other,
                                       const struct spur *spur)
{
    struct lds_reading reading = unread();
    double here = density_at(seen->channel, spur->frequency_hz), there = density_at(other->channel, spur->frequency_hz);
    double shorter = fmax(1.0, other->capture->seconds / seen->capture->seconds);
    double threshold = spur->level * pow(10.0, -spur->margin_db / 20.0) * sqrt(here / there * shorter);
    double limit = threshold + LDS_COVERAGE * line_u(seen, spur->frequency_hz);
    reading.limit = lds_in_db(limit, "V");
    return reading;
}

/* ---- one line, both sides ---- */

static bool add_line(const struct line_question *q, const struct lds_pooled pooled[2], bool judged, const char *origin)
{
    struct lds_compared_channel *out = q->part->out;
    size_t facts = out->lines; /* as many as lines */
    struct lds_fact *fact = lds_grow(&q->part->line, &facts, sizeof *fact);
    struct lds_line_change *line = fact ? lds_grow(&out->line, &out->lines, sizeof *line) : NULL;
    if (!line)
        return false;
    struct lds_delta_way way = {.u_rep = lds_scatter_of_series(&q->work->scatter, q->kind),
                                .shared_bench = lds_bench_is_shared(q->chosen),
                                .from_repeats = lds_repeats_tell(&q->work->scatter, q->kind->family, q->chosen->count)};
    lds_fact_make(&pooled[0], &pooled[1], way,
                  judged ? lds_matters_of_family(q->work->options, q->kind->family) : (double)NAN,
                  q->chosen->seen[0]->capture->seconds, fact);
    line->kind = q->kind;
    line->order = q->order;
    line->frequency_hz = q->frequency_hz;
    line->before = pow(10.0, pooled[0].mean.value / 20.0); /* NAN stays NAN */
    line->after = pow(10.0, pooled[1].mean.value / 20.0);
    line->limit = NAN;
    for (int s = 0; s < 2; s++)
        if (fact->below[s])
            line->limit = pow(10.0, pooled[s].mean.limit / 20.0);
    snprintf(line->origin, sizeof line->origin, "%s", origin);
    return true;
}

/* reading: of every chosen capture, one side after the other. false: no memory. */
static bool pool_and_add(const struct line_question *q, const struct lds_reading *reading, bool judged,
                         const char *origin)
{
    struct lds_pooled pooled[2];
    for (int i = 0; i < q->chosen->all; i++)
        if (!is_read(&reading[i]))
            return true; /* one of the captures does not cover it */
    lds_pool_sides(reading, q->chosen->count, pooled);
    if (isnan(pooled[0].mean.value) && isnan(pooled[1].mean.value))
        return true;
    return add_line(q, pooled, judged, origin);
}

static double bench_u_db(const struct lds_seen *seen)
{
    return 20.0 / M_LN10 * lds_bench_level_u(lds_seen_bench(seen));
}

static size_t row_of(const struct line_question *q, const struct lds_series *lines)
{
    return q->kind->match == LDS_MATCH_NAME ? lds_series_row_named(lines, q->name)
                                            : lds_series_row_of(lines, LDS_LINE_ORDER, q->order);
}

/* One order of the tone or the mains, or one product. */
static bool compare_order(struct line_question *q, struct lds_reading *reading)
{
    bool judged = true;
    q->frequency_hz = NAN;
    for (int i = 0; i < q->chosen->all; i++) {
        const struct lds_seen *seen = q->chosen->seen[i];
        const struct lds_series *lines = lds_seen_series(seen, q->kind);
        size_t row = row_of(q, lines);
        if (row == lines->rows)
            return true;
        struct lds_cell level = lds_series_cell(lines, row, LDS_LINE_LEVEL);
        double frequency_hz = lds_series_value(lines, row, LDS_LINE_HZ);
        struct spur spur = spur_at(seen, frequency_hz);
        if (isnan(level.value) && spur.origin)
            reading[i] = read_spur(seen, &spur);
        else
            lds_reading_take_line(level, &reading[i]);
        reading[i].flags = lines->flag[row];
        reading[i].u_bench = bench_u_db(seen);
        judged = judged && !(lines->flag[row] & LDS_FLAG_NEAR_LINE && isnan(level.high)); /* hidden */
        if (frequency_hz > 0.0)
            q->frequency_hz = frequency_hz;
    }
    return pool_and_add(q, reading, judged, q->name);
}

/* A line that one of the captures lacks is not compared, so those of the first are all there are. */
static bool compare_named(struct line_question *q, struct lds_reading *reading)
{
    const struct lds_series *lines = lds_seen_series(q->chosen->seen[0], q->kind);
    for (size_t i = 0; i < lines->rows; i++) {
        q->name = lines->text[i];
        q->order = (int)lds_series_value(lines, i, LDS_LINE_ORDER);
        if (q->order >= q->kind->first_order && !compare_order(q, reading))
            return false;
    }
    return true;
}

static int last_order(const struct lds_chosen *chosen, const struct lds_series_kind *kind)
{
    double last = 0.0;
    for (int i = 0; i < chosen->all; i++) {
        const struct lds_series *lines = lds_seen_series(chosen->seen[i], kind);
        for (size_t k = 0; k < lines->rows; k++)
            last = fmax(last, lds_series_value(lines, k, LDS_LINE_ORDER));
    }
    return (int)last;
}

/* Do all captures have the same mains? Those without a comb do not count. */
static bool same_mains(const struct lds_chosen *chosen)
{
    double low = INFINITY, high = -INFINITY;
    for (int i = 0; i < chosen->all; i++) {
        const struct lds_figure *mains = lds_channel_find(chosen->seen[i]->channel, LDS_FIGURE_MAINS_FREQUENCY);
        if (!mains || isnan(mains->value))
            continue;
        low = fmin(low, mains->value);
        high = fmax(high, mains->value);
    }
    return !(high - low > MAINS_SAME_HZ);
}

static bool is_listed(const struct lds_part *part, const struct lds_measurement *capture, double frequency_hz)
{
    for (size_t i = 0; i < part->out->lines; i++)
        if (fabs(part->out->line[i].frequency_hz - frequency_hz) <= tolerance_hz(capture, frequency_hz))
            return true;
    return false;
}

static bool compare_spur(struct line_question *q, const struct lds_seen *owner, const struct spur *spur,
                         struct lds_reading *reading)
{
    q->frequency_hz = spur->frequency_hz;
    const char *origin = spur->origin;
    for (int i = 0; i < q->chosen->all; i++) {
        const struct lds_seen *seen = q->chosen->seen[i];
        struct spur same = spur_at(seen, spur->frequency_hz);
        reading[i] = same.origin ? read_spur(seen, &same) : read_named(seen, spur->frequency_hz);
        if (!is_read(&reading[i]))
            reading[i] = read_nothing(seen, owner, spur);
        reading[i].u_bench = bench_u_db(seen);
        if (same.origin && seen->side == LDS_AFTER) {
            q->frequency_hz = same.frequency_hz;
            origin = same.origin;
        }
    }
    return pool_and_add(q, reading, true, origin);
}

static bool compare_spurs(struct line_question *q, struct lds_reading *reading)
{
    for (int i = 0; i < q->chosen->all; i++) {
        const struct lds_seen *seen = q->chosen->seen[i];
        const struct lds_series *spurs = lds_seen_series(seen, q->kind);
        for (size_t k = 0; k < spurs->rows; k++) {
            struct spur spur = spur_of(spurs, k);
            if (!is_listed(q->part, seen->capture, spur.frequency_hz) && !compare_spur(q, seen, &spur, reading))
                return false;
        }
    }
    return true;
}

static bool compare_kind(struct line_question *q)
{
    const struct lds_chosen *chosen = q->chosen;
    struct lds_reading *reading = calloc((size_t)chosen->all, sizeof *reading);
    if (!reading)
        return false;
    bool ok = true;
    if (q->kind->match == LDS_MATCH_NEAREST) {
        ok = compare_spurs(q, reading);
    } else if (q->kind->match == LDS_MATCH_NAME) {
        ok = compare_named(q, reading);
    } else if (q->kind->family != LDS_FAMILY_MAINS || same_mains(chosen)) {
        int last = last_order(chosen, q->kind);
        for (q->order = q->kind->first_order; ok && q->order <= last; q->order++)
            ok = compare_order(q, reading);
    }
    free(reading);
    return ok;
}

bool lds_lines_find_changes(struct lds_work *work, struct lds_part *part)
{
    size_t kinds;
    const struct lds_series_kind *kind = lds_series_kinds(&kinds);
    for (size_t i = 0; i < kinds; i++) {
        if (kind[i].match != LDS_MATCH_ORDER && kind[i].match != LDS_MATCH_NAME && kind[i].match != LDS_MATCH_NEAREST)
            continue;
        struct lds_chosen chosen;
        char reason[256];
        bool of_tone = kind[i].family == LDS_FAMILY_DISTORTION;
        /* every capture with such lines has this */
        const char *key = lds_key_row(of_tone ? LDS_FIGURE_TONE_LEVEL : LDS_FIGURE_RMS)->stem;
        struct line_question q = {.work = work, .part = part, .chosen = &chosen, .kind = &kind[i], .name = ""};
        q.like = lds_key_row(of_tone ? LDS_FIGURE_THD : LDS_FIGURE_MAINS_TOTAL);
        bool ok = lds_choose(&part->view, key, q.like, &chosen);
        if (ok && !lds_not_comparable(&part->view, &chosen, key, q.like, reason))
            ok = compare_kind(&q);
        lds_chosen_free(&chosen);
        if (!ok)
            return false;
    }
    return true;
}
