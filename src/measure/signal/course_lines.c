#include "measure/signal/course_lines.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "measure/statistics/median.h"

/* Common practice, no source. */
static const double SOFT = 3.2e-3;       /* 25 dB below the loudest frame */
static const double NEAR = 0.01;         /* relative change of frequency below which a line counts as unchanged */
static const double SWEEP_LEAST = 1.5;   /* ratio of the highest to the lowest frequency of a sweep */
static const double MONOTONE = 0.85;     /* share of the frames that must be on a path in one direction */
static const double RETURN = 0.5;        /* share of the range: a jump back by more is the start of the next sweep */
static const double JUMP_MOST = 0.4;     /* largest change between frames, as a share of that range: more is a step, not
                                          * a sweep */
static const double OCTAVES_FROM = 88.0; /* Hz */
static const double SEEN_LEAST = 0.01;   /* share of the total power that the octaves must show */
enum { FRAMES_LEAST = 8, NEAR_BINS = 3, REPEAT_LEAST = 4 };

struct path {
    size_t count;
    double *hz; /* or its logarithm, for the frames that are not soft, in order of time */
    double *at_s;
    double *best;        /* room for the search */
    double from_s, to_s; /* where the capture is not soft */
};

static bool near(const struct lds_course_result *course, double width_hz, double a_hz, double b_hz)
{
    return fabs(a_hz - b_hz) <= fmax(fmax(NEAR_BINS * course->bin_hz, width_hz), NEAR * b_hz);
}

/* Length of the longest rising (or level) subsequence of y[0..n), and its ends: patience sorting, where best[] holds
 * the smallest last member for each length. */
static size_t longest_rise(const double *y, size_t n, double *best)
{
    size_t length = 0;
    for (size_t i = 0; i < n; i++) {
        size_t low = 0, high = length;
        while (low < high) {
            size_t middle = (low + high) / 2;
            if (best[middle] <= y[i])
                low = middle + 1;
            else
                high = middle;
        }
        best[low] = y[i];
        length = low == length ? length + 1 : length;
    }
    return length;
}

/* Frames on rising paths, each from one return to the next; *jump: the largest step up between neighbours. */
static size_t rising(const struct path *path, double range, size_t *parts, double *jump)
{
    size_t first = 0, on_path = 0;
    *parts = 0;
    *jump = 0.0;
    for (size_t i = 1; i <= path->count; i++) {
        double step = i < path->count ? path->hz[i] - path->hz[i - 1] : -INFINITY;
        if (step > -RETURN * range) {
            *jump = fmax(*jump, step);
            continue;
        }
        on_path += longest_rise(path->hz + first, i - first, path->best);
        (*parts)++;
        first = i;
    }
    return on_path;
}

static double at_share(double *value, size_t n, double share)
{
    return lds_smallest(value, n, (size_t)(share * (double)(n - 1) + 0.5));
}

/* Whether the path goes up, once or repeatedly. */
static bool goes_up(const struct path *path, double low, double high, size_t *parts)
{
    double jump;
    size_t on_path = rising(path, high - low, parts, &jump);
    return (double)on_path >= MONOTONE * (double)path->count && path->count >= REPEAT_LEAST * *parts &&
           jump < JUMP_MOST * (high - low);
}

static void turn_round(struct path *path)
{
    for (size_t i = 0; i < path->count; i++)
        path->hz[i] = -path->hz[i];
}

/* Frames are long, so the straight line through the path's quarters is extended to both ends. Returns how far the
 * middle is off that line. */
static double continue_path(const struct path *path, double ends[2])
{
    size_t quarter = path->count / 4, middle = path->count / 2, last = path->count - 1 - quarter;
    double slope = (path->hz[last] - path->hz[quarter]) / (path->at_s[last] - path->at_s[quarter]);
    ends[0] = path->hz[quarter] + slope * (path->from_s - path->at_s[quarter]);
    ends[1] = path->hz[quarter] + slope * (path->to_s - path->at_s[quarter]);
    double off = path->hz[middle] - path->hz[quarter] - slope * (path->at_s[middle] - path->at_s[quarter]);
    return fabs(off / (path->hz[last] - path->hz[quarter]));
}

static void take_logarithm(struct path *path)
{
    for (size_t i = 0; i < path->count; i++)
        path->hz[i] = log(path->hz[i]);
}

/* Even steps in frequency or in its logarithm, up or down. */
static void find_sweep(struct path *path, double bin_hz, double top_hz, struct lds_line_course *line)
{
    if (path->count < FRAMES_LEAST)
        return;
    memcpy(path->best, path->hz, path->count * sizeof *path->best);
    double low = at_share(path->best, path->count, 0.02), high = at_share(path->best, path->count, 0.98);
    double least_off = INFINITY;
    for (int logarithmic = 0; logarithmic < 2 && high >= SWEEP_LEAST * low; logarithmic++) {
        double a = logarithmic ? log(low) : low, b = logarithmic ? log(high) : high, ends[2];
        size_t parts, parts_down;
        if (logarithmic)
            take_logarithm(path);
        bool up = goes_up(path, a, b, &parts);
        turn_round(path);
        bool down = !up && goes_up(path, -b, -a, &parts_down);
        turn_round(path);
        double off = continue_path(path, ends);
        if ((!up && !down) || off >= least_off)
            continue;
        least_off = off;
        line->sweeps = true;
        bool once = (down ? parts_down : parts) == 1;
        for (int i = 0; i < 2; i++)
            ends[i] = once ? (logarithmic ? exp(ends[i]) : ends[i]) : (i != down) ? high : low;
        line->from_hz = fmin(top_hz, fmax(bin_hz, ends[0]));
        line->to_hz = fmin(top_hz, fmax(bin_hz, ends[1]));
    }
}

/* First and last stretch that is not soft. */
static void find_ends(const struct lds_course_result *course, struct path *path)
{
    double most = 0.0;
    size_t first = course->stretches, last = 0;
    for (size_t i = 0; i < course->stretches; i++)
        most = fmax(most, course->power[i]);
    for (size_t i = 0; i < course->stretches; i++)
        if (course->power[i] > SOFT * most) {
            first = first < i ? first : i;
            last = i;
        }
    path->from_s = course->start_s + (double)first * course->step_s;
    path->to_s = course->start_s + (double)(last + 1) * course->step_s;
}

bool lds_line_course_find(const struct lds_course_result *course, double another_hz, double width_hz,
                          struct lds_line_course *line)
{
    *line = (struct lds_line_course){.frequency_hz = NAN, .from_hz = NAN, .to_hz = NAN};
    double loudest = 0.0, strongest = 0.0;
    for (size_t i = 0; i < course->frames; i++) {
        loudest = fmax(loudest, course->frame[i].total);
        if (course->frame[i].line > strongest) {
            strongest = course->frame[i].line;
            line->frequency_hz = course->frame[i].frequency_hz;
        }
    }
    struct path path = {0};
    path.hz = malloc((4 * course->frames + 1) * sizeof *path.hz);
    if (!path.hz)
        return false;
    path.best = path.hz + course->frames;
    path.at_s = path.best + course->frames;
    double *share = path.at_s + course->frames;
    find_ends(course, &path);
    size_t stays = 0;
    double power_stays = 0.0, power = 0.0;
    for (size_t i = 0; i < course->frames; i++) {
        const struct lds_course_frame *frame = &course->frame[i];
        if (!(frame->total > SOFT * loudest))
            continue;
        bool there = near(course, width_hz, frame->frequency_hz, line->frequency_hz) ||
                     (another_hz > 0.0 && near(course, width_hz, frame->frequency_hz, another_hz));
        stays += there;
        power += frame->total;
        power_stays += there ? frame->total : 0.0;
        share[path.count] = frame->line / frame->total;
        path.at_s[path.count] = frame->centre_s;
        path.hz[path.count++] = frame->frequency_hz;
    }
    line->stays = path.count ? (double)stays / (double)path.count : 0.0;
    line->power_stays = power > 0.0 ? power_stays / power : 0.0;
    line->share = path.count ? lds_median(share, path.count) : 0.0;
    find_sweep(&path, course->bin_hz, course->top_hz, line);
    free(path.hz);
    return true;
}

/* ---- the spectrum ---- */

struct octave {
    double power, broad;
    double block[LDS_BLOCKS];
    int frames_least; /* smallest number in an eighth, over its levels */
    double dof;       /* of an eighth's power, if it were noise */
};

/* The part of an octave that one level holds. */
static void add_level(const struct lds_level *level, double low_hz, double high_hz, double *room, struct octave *octave)
{
    int first = (int)ceil(low_hz / level->bin_hz), last = (int)ceil(high_hz / level->bin_hz);
    first = first > level->first ? first : level->first;
    last = last < level->last ? last : level->last;
    if (last - first < LDS_LOBE_BINS)
        return;
    double sum = 0.0;
    for (int k = first; k < last; k++) {
        sum += level->power[k] * level->bin_hz;
        room[k - first] = level->power[k];
        for (int b = 0; b < LDS_BLOCKS; b++)
            octave->block[b] += level->block[b][k] * level->bin_hz;
    }
    for (int b = 0; b < LDS_BLOCKS; b++)
        octave->frames_least =
            level->block_frames[b] < octave->frames_least ? level->block_frames[b] : octave->frames_least;
    octave->power += sum;
    octave->dof += level->band_dof * (last - first) * level->bin_hz / LDS_BLOCKS;
    /* The median of chi-square with nu degrees of freedom over its mean is (1 - 2/(9 nu))^3 (Wilson and Hilferty
     * 1931). */
    double median = lds_median(room, (size_t)(last - first)) / pow(1.0 - 2.0 / (9.0 * fmax(2.0, level->bin_dof)), 3.0);
    octave->broad += fmin(sum, median * (last - first) * level->bin_hz);
}

static double variance_db(const struct octave *octave)
{
    double sum = 0.0, square = 0.0;
    for (int b = 0; b < LDS_BLOCKS; b++) {
        double db = 10.0 * log10(fmax(1e-30, octave->block[b]));
        sum += db / LDS_BLOCKS;
        square += db * db / LDS_BLOCKS;
    }
    double db = 10.0 / M_LN10;
    return fmax(0.0, (square - sum * sum) * LDS_BLOCKS / (LDS_BLOCKS - 1.0) - db * db * 2.0 / fmax(1.0, octave->dof));
}

bool lds_spectrum_course_find(const struct lds_density *density, struct lds_spectrum_course *spectrum)
{
    *spectrum = (struct lds_spectrum_course){0};
    int room = 0;
    for (int i = 0; i < density->levels; i++)
        room = density->level[i].n > room ? density->level[i].n : room;
    double *power = malloc((size_t)(room + 1) * sizeof *power), all = 0.0, broad = 0.0, change = 0.0, seen = 0.0;
    if (!power)
        return false;
    for (double low = OCTAVES_FROM; low < density->end_hz; low *= 2.0) {
        struct octave octave = {.frames_least = 1};
        for (int i = 0; i < density->levels; i++)
            add_level(&density->level[i], low, fmin(2.0 * low, density->end_hz), power, &octave);
        all += octave.power;
        broad += octave.broad;
        if (octave.frames_least < 1)
            continue;
        change += octave.power * variance_db(&octave);
        seen += octave.power;
    }
    spectrum->broad = all > 0.0 ? broad / all : 0.0;
    /* The eighths of a short capture have no long frames and so no low lines. If most of the power is there, the rest
     * says nothing. */
    spectrum->change_db = seen > SEEN_LEAST * all ? sqrt(change / seen) : 0.0;
    free(power);
    return true;
}
