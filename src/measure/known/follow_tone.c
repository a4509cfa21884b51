/* Where exactly a signal made of steady tones begins, and at which clock: first the frequency of its tone throughout,
 * then the edge of its envelope, then the tone's phase there. */
#include <math.h>
#include <stdlib.h>

#include "measure/known/follow.h"

enum { FRAMES_MOST = 4096, GRID = 2001, EDGE_STEPS = 401 };
static const double FRAME_S = 0.01, CYCLES = 12.0;
static const double MOST_PPM = 250.0;
static const double LEAST_SHARE = 0.02;
static const double ALIKE = 0.85; /* of the envelopes: with less, it is another signal of that frequency */
static const double LOUD = 0.1;   /* of the reference's largest frame: only frames above this count */

/* Phase and size of the tone in frames, relative to the reference where and at the clock it is assumed so far. */
struct course {
    size_t count;
    double t_s[FRAMES_MOST];
    double complex ratio[FRAMES_MOST]; /* captured times conjugate of played */
    double weight[FRAMES_MOST];
    double share; /* of the tone in all, on average */
    double alike; /* likeness of the sizes of tone and reference up to where the tone breaks off: 0 to 1 */
    double gone_s, back_s;
};

struct sums {
    double complex captured, played;
    double power;
};

/* A frame, with a raised cosine as window. */
static struct sums frame_at(const struct lds_stretch *stretch, const struct lds_known *known,
                            const struct lds_player *player, double t_s, size_t length, double *scratch)
{
    const double second = lds_known_frames(known, stretch->rate_hz), hz = known->spec->frequency_hz[0];
    const double from = floor(known->begin - stretch->first + t_s * second);
    struct sums s = {0};
    double weight = 0.0;
    if (from < 0.0 || from + (double)length > (double)stretch->n)
        return s;
    const double first_s = (from + stretch->first - known->begin) / second;
    lds_player_render_at(player, first_s, 1.0 / second, length, scratch);
    for (size_t i = 0; i < length; i++) {
        const double w = 1.0 - cos(2.0 * M_PI * ((double)i + 0.5) / (double)length);
        const double turns = hz * (first_s + (double)i / second), x = stretch->x[(size_t)from + i];
        const double complex e = w * cexp(-I * 2.0 * M_PI * (turns - floor(turns)));
        s.captured += e * x;
        s.played += e * scratch[i];
        s.power += w * x * x;
        weight += w;
    }
    s.captured /= weight;
    s.played /= weight;
    s.power /= weight;
    return s;
}

static void follow(const struct lds_stretch *stretch, const struct lds_known *known, const struct lds_player *player,
                   size_t length, double *scratch, struct course *course)
{
    const struct lds_signal_spec *spec = known->spec;
    const double seconds = (double)lds_signal_proper(spec) / spec->rate_hz, frame_s = (double)length / stretch->rate_hz;
    const size_t frames = (size_t)fmin(FRAMES_MOST, fmax((seconds - frame_s) / frame_s, 1.0));
    const double loudest = pow(10.0, fmax(spec->level_dbfs, isnan(spec->to_dbfs) ? -INFINITY : spec->to_dbfs) / 20.0);
    double tone = 0.0, power = 0.0, last_ratio = NAN, product = 0.0, own = 0.0, reference = 0.0;
    *course = (struct course){.gone_s = NAN, .back_s = NAN};
    for (size_t i = 0; i < frames; i++) {
        const double t_s = (seconds - frame_s) * ((double)i + 0.5) / (double)frames;
        const struct sums s = frame_at(stretch, known, player, t_s, length, scratch);
        const double played = 2.0 * cabs(s.played), captured = 2.0 * cabs(s.captured);
        if (isnan(course->gone_s)) {
            product += captured * played;
            own += captured * captured;
            reference += played * played;
        }
        const bool expected =
            played > 0.0 && played > 0.5 * LOUD * loudest * (spec->kind == LDS_SIGNAL_STAIRCASE ? 0.02 : 1.0);
        if (!expected && s.power > 0.0)
            continue;
        const double ratio = played > 0.0 ? captured / played : 0.0;
        if (expected && !isnan(last_ratio) && ratio < 0.05 * last_ratio) {
            course->gone_s = isnan(course->gone_s) ? t_s : course->gone_s;
        } else if (expected || s.power == 0.0) {
            if (s.power == 0.0 && !isnan(last_ratio) && isnan(course->gone_s))
                course->gone_s = t_s;
            if (expected) {
                course->back_s = !isnan(course->gone_s) && isnan(course->back_s) ? t_s : course->back_s;
                last_ratio = ratio;
            }
        }
        tone += 2.0 * creal(s.captured * conj(s.captured));
        power += s.power;
        if (!expected)
            continue;
        course->t_s[course->count] = t_s + 0.5 * frame_s;
        course->ratio[course->count] = s.captured * conj(s.played);
        course->weight[course->count++] = cabs(s.played) * cabs(s.played);
    }
    course->share = power > 0.0 ? fmin(tone / power, 1.0) : 0.0;
    course->alike = own > 0.0 && reference > 0.0 ? product / sqrt(own * reference) : 0.0;
}

/* The clock at which all frames add up best. */
static double best_clock(const struct course *course, double hz)
{
    double best = -1.0, where = 0.0;
    for (int g = 0; g < GRID; g++) {
        const double clock = 1e-6 * MOST_PPM * (2.0 * g / (GRID - 1) - 1.0);
        double complex sum = 0.0;
        for (size_t i = 0; i < course->count; i++)
            sum += course->ratio[i] * cexp(I * 2.0 * M_PI * hz * clock * course->t_s[i]);
        if (cabs(sum) > best) {
            best = cabs(sum);
            where = clock;
        }
    }
    return where;
}

/* A weighted line through the phases that are left: its slope is the rest of the clock. */
static void line(const struct course *course, double hz, double clock, double *rest, double *u, double *phase)
{
    double w = 0.0, t = 0.0, p = 0.0, tt = 0.0, tp = 0.0, left = 0.0;
    double complex mean = 0.0;
    for (size_t i = 0; i < course->count; i++)
        mean += course->ratio[i] * cexp(I * 2.0 * M_PI * hz * clock * course->t_s[i]);
    for (int pass = 0; pass < 3; pass++)
        for (size_t i = 0; i < course->count; i++) {
            const double turned = 2.0 * M_PI * hz * clock * course->t_s[i];
            const double one = carg(course->ratio[i] * cexp(I * turned) * conj(mean)), weight = course->weight[i];
            if (pass == 0) {
                w += weight;
                t += weight * course->t_s[i];
                p += weight * one;
            } else if (pass == 1) {
                tt += weight * pow(course->t_s[i] - t / w, 2.0);
                tp += weight * (course->t_s[i] - t / w) * (one - p / w);
            } else {
                left += weight * pow(one - p / w - tp / tt * (course->t_s[i] - t / w), 2.0);
            }
        }
    const double slope = tt > 0.0 ? tp / tt : 0.0, n = (double)course->count;
    *rest = -slope / (2.0 * M_PI * hz);
    *u = n > 2.0 && tt > 0.0 ? sqrt(left / (n - 2.0) / tt) / (2.0 * M_PI * hz) : (double)NAN;
    *phase = carg(mean) + p / w - slope * t / w; /* at the beginning */
}

static double raised(double x)
{
    return x <= 0.0 ? 0.0 : x >= 1.0 ? 1.0 : 0.5 - 0.5 * cos(M_PI * x);
}

/* Where the envelope rises: the shift of the fade that leaves the smallest residual, searched on both sides of the
 * assumed place. */
static double edge(const struct lds_stretch *stretch, const struct lds_known *known, double *u)
{
    enum { POINTS = 64 };
    const double second = lds_known_frames(known, stretch->rate_hz), hz = known->spec->frequency_hz[0];
    const double fade_s = known->spec->fade_in_s, reach_s = fmax(2.0 * FRAME_S, 2.0 * CYCLES / hz);
    const double step_s = (2.0 * reach_s + 2.0 * fade_s) / POINTS, window_s = fmax(2.0 / hz, fade_s / 8.0);
    double size[POINTS], best = INFINITY, where = 0.0, largest = 0.0;
    for (int k = 0; k < POINTS; k++) {
        const double middle = known->begin - stretch->first + (step_s * k - reach_s) * second;
        double complex sum = 0.0;
        double weight = 0.0;
        const double from = ceil(middle - 0.5 * window_s * second), to = floor(middle + 0.5 * window_s * second);
        for (double i = from; i <= to; i++) {
            if (i < 0.0 || i >= (double)stretch->n)
                continue;
            const double w = 1.0 + cos(2.0 * M_PI * (i - middle) / (window_s * second)), turns = hz * i / second;
            sum += w * stretch->x[(size_t)i] * cexp(-I * 2.0 * M_PI * (turns - floor(turns)));
            weight += w;
        }
        size[k] = weight > 0.0 ? 2.0 * cabs(sum) / weight : 0.0;
        largest = fmax(largest, size[k]);
    }
    for (int g = 0; g < EDGE_STEPS; g++) {
        const double shift = reach_s * (2.0 * g / (EDGE_STEPS - 1) - 1.0);
        double product = 0.0, square = 0.0, own = 0.0;
        for (int k = 0; k < POINTS; k++) {
            const double expected = raised((step_s * k - reach_s - shift) / fade_s);
            product += expected * size[k];
            square += expected * expected;
            own += size[k] * size[k];
        }
        const double left = square > 0.0 ? own - product * product / square : own;
        if (left < best) {
            best = left;
            where = shift;
        }
    }
    *u = fmax(reach_s / EDGE_STEPS, fade_s * sqrt(fmax(best, 0.0) / POINTS) / fmax(largest, 1e-30));
    return where;
}

/* If the time of the edge is known well enough it says in which cycle of the tone the signal begins, and the phase says
 * where in that cycle. */
static void place(const struct lds_stretch *stretch, struct lds_known *known, double phase)
{
    const double hz = known->spec->frequency_hz[0], second = lds_known_frames(known, stretch->rate_hz);
    double u_s;
    const double shift = edge(stretch, known, &u_s), expected = -2.0 * M_PI * hz * shift;
    double off = remainder(phase - expected, 2.0 * M_PI);
    known->begin += shift * second;
    known->u_begin = u_s * second;
    known->inverted = -1;
    if (u_s * hz > 0.08)
        return;
    known->inverted = fabs(off) > 0.5 * M_PI;
    off = known->inverted ? remainder(off - M_PI, 2.0 * M_PI) : off;
    known->begin -= off / (2.0 * M_PI * hz) * second;
}

bool lds_follow_tone(const struct lds_stretch *stretch, struct lds_known *known)
{
    const double hz = known->spec->frequency_hz[0];
    const size_t length = (size_t)(fmax(FRAME_S, CYCLES / hz) * stretch->rate_hz);
    struct lds_player *player = lds_player_new(known->spec);
    struct course *course = malloc(sizeof *course);
    double *scratch = malloc(length * sizeof *scratch);
    const bool memory = player && course && scratch;
    known->breaks_s = known->resumes_s = NAN;
    if (memory) {
        double rest, phase;
        follow(stretch, known, player, length, scratch, course);
        known->match = course->share;
        known->found = course->share > LEAST_SHARE && course->count > 1;
        for (int round = 0; known->found && round < 2; round++) {
            const double clock = round == 0 ? best_clock(course, hz) : 0.0;
            line(course, hz, clock, &rest, &known->u_clock_ppm, &phase);
            known->clock_ppm += 1e6 * (clock + rest);
            known->u_clock_ppm *= 1e6;
            if (round == 0)
                follow(stretch, known, player, length, scratch, course);
        }
        if (known->found) {
            place(stretch, known, phase);
            const double second = lds_known_frames(known, stretch->rate_hz);
            known->breaks_s = (known->begin + course->gone_s * second) / stretch->rate_hz;
            known->resumes_s = (known->begin + course->back_s * second) / stretch->rate_hz;
            /* A signal that breaks off is found if it is the stated one up to there. */
            known->found = known->likeness >= ALIKE || (!isnan(known->breaks_s) && course->alike >= ALIKE);
        }
    }
    lds_player_free(player);
    free(course);
    free(scratch);
    return memory;
}
