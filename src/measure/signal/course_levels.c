/* Bursts and plateaus in the level of a capture. The thresholds are common practice, no source: they are set so that a
 * tone that drifts, is modulated, or drops out for a moment counts as neither. */
#include "measure/signal/course_levels.h"

#include <math.h>
#include <stdlib.h>

#include "measure/statistics/median.h"

static const double PERIODS = 4.0;              /* of the tone, at least, in a cell: then its power ripples by 2 % */
static const double ON_DB = 8.0, OFF_DB = 14.0; /* below the top */
static const double PART_S = 0.1;               /* shorter silence at an end is not reported */
static const double OFF_SHARE = 0.15, OFF_SHARE_REGULAR = 0.03;
static const double SAME_DB = 0.4;     /* levels closer than this are one plateau */
static const double FLAT_DB = 0.3;     /* range of a plateau without noise */
static const double SILENCE_DB = 15.0; /* below all other plateaus */
static const double COVERED = 0.7;     /* share of the cells, without silence, that plateaus must cover */
enum { CELLS_LEAST = 16, REGULAR = 5, EDGE = 3, PLATEAU_CELLS = 5, PLATEAUS_LEAST = 3, SHORT_RUN = 4 };

struct cells {
    size_t count;
    double step_s;
    double *db;
    double top, bottom; /* without the one highest and the one lowest cell */
};

struct run {
    size_t first, end; /* cells [first, end) */
    double level_db;   /* of a plateau: mean */
    double start_db, stop_db;
    bool abrupt; /* reached by a step, not a slope */
};

static double decibels(double power)
{
    return 10.0 * log10(fmax(power, 1e-30));
}

static bool make_cells(const struct lds_course_result *course, double frequency_hz, struct cells *cells)
{
    double shortest_s = frequency_hz > 0.0 ? PERIODS / frequency_hz : 0.0;
    size_t per = (size_t)fmax(1.0, ceil(shortest_s / course->step_s));
    *cells = (struct cells){.count = course->stretches / per, .step_s = course->step_s * (double)per};
    cells->db = malloc((cells->count + 1) * sizeof *cells->db);
    if (!cells->db)
        return false;
    double high[2] = {-INFINITY, -INFINITY}, low[2] = {INFINITY, INFINITY};
    for (size_t i = 0; i < cells->count; i++) {
        double power = 0.0;
        for (size_t j = 0; j < per; j++)
            power += course->power[i * per + j] / (double)per;
        double db = cells->db[i] = decibels(power);
        high[1] = db > high[0] ? high[0] : fmax(high[1], db);
        high[0] = fmax(high[0], db);
        low[1] = db < low[0] ? low[0] : fmin(low[1], db);
        low[0] = fmin(low[0], db);
    }
    cells->top = high[1];
    cells->bottom = low[1];
    return true;
}

/* ---- on and off ---- */

struct switching {
    size_t runs, longest; /* on */
    size_t first, end;    /* outer ends of the runs */
    size_t off, between;  /* cells inside those ends */
    size_t outside;       /* cells beyond them that are not off */
    int checked, uneven;  /* runs long enough to check whether they are level */
};

/* Uses only the inner cells of a run, as the outer ones are only partly on. */
static void check_run(const struct cells *cells, size_t first, size_t end, struct switching *s)
{
    size_t length = end - first;
    s->longest = length > s->longest ? length : s->longest;
    if (length < SHORT_RUN)
        return;
    double low = INFINITY, high = -INFINITY;
    for (size_t i = first + 1; i + 1 < end; i++) {
        low = fmin(low, cells->db[i]);
        high = fmax(high, cells->db[i]);
    }
    s->checked++;
    s->uneven += high - low > 2.5;
}

static void find_switching(const struct cells *cells, struct switching *s)
{
    *s = (struct switching){0};
    size_t start = 0, last_on = 0, off = 0, between = 0;
    bool on = false;
    for (size_t i = 0; i < cells->count; i++) {
        bool is_on = cells->db[i] > cells->top - ON_DB, is_off = cells->db[i] < cells->top - OFF_DB;
        if (is_on && !on) {
            s->first = s->runs ? s->first : i;
            s->outside += s->runs ? 0 : between;
            s->off += s->runs ? off : 0;
            s->between += s->runs ? between : 0;
            s->runs++;
            start = i;
        }
        if (is_off && on)
            check_run(cells, start, last_on + 1, s);
        on = is_on || (on && !is_off);
        if (is_on) {
            last_on = i;
            off = between = 0;
        }
        off += is_off;
        between += !is_on && !is_off;
    }
    if (on)
        check_run(cells, start, last_on + 1, s);
    s->end = s->runs ? last_on + 1 : 0;
    s->outside += between;
}

static bool is_bursts(const struct switching *s)
{
    double inside = (double)(s->end - s->first), share = (double)s->off / fmax(1.0, inside);
    if (s->runs < 2 || share < (s->runs >= REGULAR ? OFF_SHARE_REGULAR : OFF_SHARE))
        return false;
    if (s->between > EDGE * 2 * (s->runs - 1))
        return false;
    if (s->checked == 0) /* too short to check whether they are level: then they must be far apart, which a slow
                          * modulation is not */
        return (double)s->off >= 3.0 * (inside - (double)s->off);
    return s->uneven * 5 <= s->checked;
}

static bool is_part(const struct cells *cells, const struct switching *s, double seconds)
{
    double least_s = fmax(PART_S, fmax(0.01 * seconds, 2.0 * cells->step_s));
    double lead_s = (double)s->first * cells->step_s, tail_s = (double)(cells->count - s->end) * cells->step_s;
    return s->runs > 0 && s->outside <= 2 * EDGE && fmax(lead_s, tail_s) >= least_s;
}

/* ---- plateaus ---- */

/* Weights 1, 2, 1: removes the ripple of a tone's power from cell to cell. */
static void smooth(struct cells *cells)
{
    double before = pow(10.0, cells->db[0] / 10.0), here = before;
    for (size_t i = 0; i < cells->count; i++) {
        double after = i + 1 < cells->count ? pow(10.0, cells->db[i + 1] / 10.0) : here;
        cells->db[i] = decibels(0.25 * (before + 2.0 * here + after));
        before = here;
        here = after;
    }
}

/* Scatter of the cells from their second differences, which steps and slopes hardly affect. */
static bool find_scatter(const struct cells *cells, double *sd)
{
    double *difference = malloc(cells->count * sizeof *difference);
    if (!difference)
        return false;
    size_t n = 0;
    for (size_t i = 2; i < cells->count; i++)
        if (cells->db[i] > cells->bottom + 6.0 || cells->top - cells->bottom < SILENCE_DB)
            difference[n++] = fabs(cells->db[i] - 2.0 * cells->db[i - 1] + cells->db[i - 2]);
    *sd = n ? lds_median(difference, n) / (0.6745 * sqrt(6.0)) : 0.0;
    free(difference);
    return true;
}

/* Flat runs in order of time; neighbours without a step between them are joined. */
static size_t find_plateaus(const struct cells *cells, double flat_db, double step_db, struct run *run)
{
    size_t count = 0;
    for (size_t i = 0; i < cells->count;) {
        double low = cells->db[i], high = low, sum = 0.0;
        size_t end = i;
        for (; end < cells->count; end++) {
            low = fmin(low, cells->db[end]);
            high = fmax(high, cells->db[end]);
            if (high - low > flat_db)
                break;
            sum += cells->db[end];
        }
        size_t length = end - i;
        struct run here = {i,
                           end,
                           sum / (double)length,
                           0.5 * (cells->db[i] + cells->db[i + (length > 1)]),
                           0.5 * (cells->db[end - 1] + cells->db[end - 1 - (length > 1)]),
                           false};
        struct run *before = count ? &run[count - 1] : NULL;
        here.abrupt = !before || i - before->end <= EDGE;
        if (length < PLATEAU_CELLS) {
            i = i + 1;
            continue;
        }
        if (before && i - before->end <= EDGE && fabs(here.start_db - before->stop_db) < step_db) {
            double n = (double)(before->end - before->first), m = (double)length;
            before->level_db = (n * before->level_db + m * here.level_db) / (n + m);
            before->end = end;
            before->stop_db = here.stop_db;
        } else {
            run[count++] = here;
        }
        i = end;
    }
    return count;
}

/* How many plateaus form a staircase; 0: it is not one. */
static int count_steps(const struct cells *cells, const struct run *run, size_t runs)
{
    double lowest = INFINITY, second = INFINITY, lowest_counted = INFINITY, highest = -INFINITY;
    for (size_t i = 0; i < runs; i++)
        lowest = fmin(lowest, run[i].level_db);
    for (size_t i = 0; i < runs; i++)
        if (run[i].level_db > lowest + SILENCE_DB)
            second = fmin(second, run[i].level_db);
    bool silence = isfinite(second) && lowest < cells->bottom + 6.0;
    for (size_t i = 0; silence && i < runs; i++) /* no level between silence and the other plateaus */
        silence = run[i].level_db < lowest + 6.0 || run[i].level_db >= second;
    size_t covered = 0, significant = 0;
    int count = 0, abrupt = 0;
    for (size_t i = 0; i < runs; i++) {
        if (silence && run[i].level_db < second)
            continue;
        count++;
        abrupt += run[i].abrupt;
        lowest_counted = fmin(lowest_counted, run[i].level_db);
        highest = fmax(highest, run[i].level_db);
        for (size_t k = run[i].first; k < run[i].end; k++)
            covered += cells->db[k] > cells->bottom + 10.0 || cells->top - cells->bottom < 10.0;
    }
    for (size_t i = 0; i < cells->count; i++)
        significant += cells->db[i] > cells->bottom + 10.0 || cells->top - cells->bottom < 10.0;
    bool steps = count >= PLATEAUS_LEAST && highest - lowest_counted >= SAME_DB && abrupt * 5 >= count * 4;
    return steps && (double)covered >= COVERED * (double)significant ? count : 0;
}

static bool find_steps(struct cells *cells, int *count)
{
    smooth(cells);
    double sd;
    struct run *run = malloc((cells->count / PLATEAU_CELLS + 1) * sizeof *run);
    bool memory = run && find_scatter(cells, &sd);
    if (memory) {
        double flat_db = fmin(3.0, fmax(FLAT_DB, 7.0 * sd)), step_db = fmax(SAME_DB, 1.2 * flat_db);
        *count = count_steps(cells, run, find_plateaus(cells, flat_db, step_db, run));
    }
    free(run);
    return memory;
}

bool lds_levels_find(const struct lds_course_result *course, double frequency_hz, struct lds_levels *levels)
{
    struct cells cells;
    double seconds = (double)course->stretches * course->step_s;
    *levels = (struct lds_levels){.kind = LDS_LEVELS_WHOLE, .from_s = 0.0, .to_s = seconds};
    if (!make_cells(course, frequency_hz, &cells))
        return false;
    int steps = 0;
    bool memory = true;
    if (cells.count >= CELLS_LEAST) {
        struct switching s;
        find_switching(&cells, &s);
        memory = find_steps(&cells, &steps);
        if (is_bursts(&s)) {
            levels->kind = LDS_LEVELS_BURSTS;
            levels->count = (int)s.runs;
        } else if (steps > 0) {
            levels->kind = LDS_LEVELS_STEPS;
            levels->count = steps;
        } else if (is_part(&cells, &s, seconds)) {
            levels->kind = LDS_LEVELS_PART;
        }
        levels->longest_s = (double)s.longest * cells.step_s;
        levels->from_s = course->start_s + (double)s.first * cells.step_s;
        levels->to_s = course->start_s + (double)s.end * cells.step_s;
    }
    free(cells.db);
    return memory;
}
