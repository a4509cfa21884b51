#include "measure/tracker.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include <gsl/gsl_fit.h>

#include "measure/median.h"
#include "spectrum/density.h"
#include "spectrum/simd.h"
#include "spectrum/sliding.h"
#include "spectrum/window.h"

enum { FRAMES_MAX = 1 << 16, STEPS = 4, JUMPS_MAX = 256 };
static const double SHORTEST_S = 0.05;
static const double JUMP_SIGMA = 12.0; /* of the robust scatter of phase steps */
static const double JUMP_LEAST_RAD = 0.03;

struct lds_tracker {
    double rate_hz, seconds, tone_hz;
    size_t n, hop;
    double *cosine, *sine; /* windowed, one frame, scaled so that the sum is the complex peak amplitude */
    double *buffer;
    struct lds_sliding sliding;
    size_t frames, room;
    double complex *envelope; /* at each frame's centre, phase re the nominal tone from the first sample */
};

/* A 64th of the capture at the most, so that little is lost at its ends, at least the lobe's reach to DC and to the
 * second harmonic, and never more than FRAMES_MAX frames. */
static size_t frame_length(double rate_hz, double seconds, double tone_hz)
{
    double least = fmax((LDS_LOBE_BINS + 0.5) * rate_hz / tone_hz, seconds * rate_hz * STEPS / FRAMES_MAX);
    double n = fmax(least, rate_hz * fmin(SHORTEST_S, seconds / 64.0));
    n = fmin(n, rate_hz * seconds / 2.0);
    size_t whole = (size_t)n;
    return whole < 4 * STEPS ? 4 * STEPS : whole - whole % STEPS;
}

struct lds_tracker *lds_tracker_new(double rate_hz, double seconds, double tone_hz)
{
    struct lds_tracker *t = calloc(1, sizeof *t);
    if (!t)
        return NULL;
    t->rate_hz = rate_hz;
    t->seconds = seconds;
    t->tone_hz = tone_hz;
    t->n = frame_length(rate_hz, seconds, tone_hz);
    t->hop = t->n / STEPS;
    t->cosine = malloc(t->n * sizeof *t->cosine);
    t->sine = malloc(t->n * sizeof *t->sine);
    t->buffer = malloc(2 * t->n * sizeof *t->buffer);
    lds_sliding_init(&t->sliding, t->buffer, t->n, t->hop);
    if (!t->cosine || !t->sine || !t->buffer) {
        lds_tracker_free(t);
        return NULL;
    }
    lds_window_fill(&lds_window_analysis, t->n, t->cosine);
    double sum = 0.0;
    for (size_t i = 0; i < t->n; i++)
        sum += t->cosine[i];
    for (size_t i = 0; i < t->n; i++) {
        double w = 2.0 * t->cosine[i] / sum;
        double angle = 2.0 * M_PI * fmod(tone_hz / rate_hz * ((double)i - 0.5 * (double)t->n), 1.0);
        t->cosine[i] = w * cos(angle);
        t->sine[i] = -w * sin(angle);
    }
    return t;
}

void lds_tracker_free(struct lds_tracker *tracker)
{
    if (!tracker)
        return;
    free(tracker->cosine);
    free(tracker->sine);
    free(tracker->buffer);
    free(tracker->envelope);
    free(tracker);
}

LDS_HOT static void correlate(const double *restrict x, const double *restrict c, const double *restrict s, size_t n,
                              double *re, double *im)
{
    double a[8] = {0}, b[8] = {0};
    size_t i = 0;
    for (; i + 8 <= n; i += 8)
        for (size_t v = 0; v < 8; v++) {
            a[v] += x[i + v] * c[i + v];
            b[v] += x[i + v] * s[i + v];
        }
    for (; i < n; i++) {
        a[0] += x[i] * c[i];
        b[0] += x[i] * s[i];
    }
    *re = ((a[0] + a[4]) + (a[2] + a[6])) + ((a[1] + a[5]) + (a[3] + a[7]));
    *im = ((b[0] + b[4]) + (b[2] + b[6])) + ((b[1] + b[5]) + (b[3] + b[7]));
}

static bool add_frame(struct lds_tracker *t, const double *x)
{
    if (t->frames == t->room) {
        size_t room = t->room ? 2 * t->room : 1024;
        double complex *grown = realloc(t->envelope, room * sizeof *grown);
        if (!grown)
            return false;
        t->envelope = grown;
        t->room = room;
    }
    double re, im;
    correlate(x, t->cosine, t->sine, t->n, &re, &im);
    /* The reference runs from the centre of this frame; turn it to run from the stream's first sample. */
    double cycles = t->tone_hz / t->rate_hz * ((double)t->frames * (double)t->hop + 0.5 * (double)t->n);
    t->envelope[t->frames++] = (re + I * im) * cexp(-2.0 * M_PI * I * fmod(cycles, 1.0));
    return true;
}

bool lds_tracker_push(struct lds_tracker *tracker, const double *x, size_t n)
{
    while (n > 0) {
        size_t taken;
        const double *window = lds_sliding_push(&tracker->sliding, x, n, &taken);
        if (window && !add_frame(tracker, window))
            return false;
        x += taken;
        n -= taken;
    }
    return true;
}

/* ---- after the pass ---- */

struct series {
    size_t count;
    double step_s;
    double *phase;     /* unwrapped, jumps taken out */
    double *amplitude; /* peak */
    double *scratch;
};

static double wrap(double x)
{
    return x - 2.0 * M_PI * round(x / (2.0 * M_PI));
}

/* A jump smears over the frames it falls into, so steps are taken over a whole frame (STEPS hops): the phase then moves
 * by the full jump. Its scatter is told robustly: sigma = IQR/1.349 (normal). The place is the middle of the run of
 * steps above half the jump. */
static bool find_jumps(struct series *s, double start_s, double frame_s, struct lds_track *track)
{
    if (s->count < 4 * STEPS)
        return true;
    size_t steps = s->count - STEPS;
    for (size_t i = 0; i < steps; i++)
        s->scratch[i] = s->phase[i + STEPS] - s->phase[i];
    double *sorted = malloc(steps * sizeof *sorted);
    struct lds_jump *jump = calloc(JUMPS_MAX, sizeof *jump);
    if (!sorted || !jump) {
        free(sorted);
        free(jump);
        return false;
    }
    memcpy(sorted, s->scratch, steps * sizeof *sorted);
    double median = lds_median(sorted, steps);
    for (size_t i = 0; i < steps; i++)
        sorted[i] = fabs(s->scratch[i] - median);
    double limit = fmax(JUMP_LEAST_RAD, JUMP_SIGMA / 0.6745 * lds_median(sorted, steps));
    free(sorted);
    track->jump = jump;
    for (size_t i = 0; i < steps && track->jumps < JUMPS_MAX; i++) {
        if (fabs(s->scratch[i] - median) <= limit)
            continue;
        size_t first = i, best = i;
        while (i + 1 < steps && i + 1 < first + 2 * STEPS && fabs(s->scratch[i + 1] - median) > limit) {
            i++;
            if (fabs(s->scratch[i] - median) > fabs(s->scratch[best] - median))
                best = i;
        }
        double size = s->scratch[best] - median;
        size_t a = best, b = best;
        while (a > first && fabs(s->scratch[a - 1] - median) > 0.5 * fabs(size))
            a--;
        while (b < i && fabs(s->scratch[b + 1] - median) > 0.5 * fabs(size))
            b++;
        double middle = 0.5 * (double)(a + b) + 0.5 * STEPS;
        jump[track->jumps++] = (struct lds_jump){start_s + middle * s->step_s + 0.5 * frame_s, wrap(size)};
        for (size_t k = (size_t)ceil(middle); k < s->count; k++)
            s->phase[k] -= size;
    }
    return true;
}

static double slope(const struct series *s, const double *y, size_t first, size_t count)
{
    /* Least squares on an even grid. */
    double centre = 0.5 * (double)(count - 1), sxy = 0.0;
    for (size_t i = 0; i < count; i++)
        sxy += ((double)i - centre) * y[first + i];
    double n = (double)count;
    return sxy * 12.0 / (n * (n * n - 1.0)) / s->step_s;
}

static void find_wander(const struct series *s, double frequency_hz, double seconds, struct lds_track *track)
{
    track->smooth_s = fmax(1.0, seconds / 64.0);
    size_t count = (size_t)(track->smooth_s / s->step_s) + 1;
    if (count < 3 || s->count < 2 * count) {
        track->wander_ppm = NAN;
        return;
    }
    double low = INFINITY, high = -INFINITY;
    size_t step = count / 4 > 0 ? count / 4 : 1;
    for (size_t i = 0; i + count <= s->count; i += step) {
        double f = slope(s, s->phase, i, count) / (2.0 * M_PI);
        low = fmin(low, f);
        high = fmax(high, f);
    }
    track->wander_ppm = (high - low) / frequency_hz * 1e6;
}

static void unwrap(const struct lds_tracker *t, struct series *s)
{
    double turns = 0.0, last = 0.0;
    for (size_t i = 0; i < s->count; i++) {
        double phase = carg(t->envelope[i]);
        if (i > 0)
            turns += wrap(phase - last);
        else
            turns = phase;
        last = phase;
        s->phase[i] = turns;
        s->amplitude[i] = cabs(t->envelope[i]);
    }
}

/* An even sum of frames weighs the capture evenly but for its ends; n/hop frames cover a sample. */
static double even_share(const struct lds_tracker *t, double seconds)
{
    double even_s = (double)t->frames * (double)t->hop / t->rate_hz;
    return fmin(1.0, even_s / seconds);
}

static size_t first_full(const struct series *s)
{
    double most = 0.0;
    for (size_t i = 0; i < s->count; i++)
        most = fmax(most, s->amplitude[i]);
    size_t first = 0;
    while (first + 1 < s->count && s->amplitude[first] < 0.98 * most)
        first++;
    return first;
}

/* first_s: time of the first frame's centre. The frames stop short of the capture's end, so that their mean is that of
 * a time before its middle; the slope of the level carries it there. */
static void summarise(const struct lds_tracker *t, struct series *s, double first_s, double seconds,
                      struct lds_track *track)
{
    double offset_hz = slope(s, s->phase, 0, s->count) / (2.0 * M_PI);
    track->frequency_hz = t->tone_hz + offset_hz;
    double gain = lds_window_transform(&lds_window_analysis, offset_hz * (double)t->n / t->rate_hz);
    double square = 0.0;
    for (size_t i = 0; i < s->count; i++) {
        square += s->amplitude[i] * s->amplitude[i] / (double)s->count;
        s->scratch[i] = 20.0 * log10(fmax(s->amplitude[i], 1e-300));
    }
    size_t full = first_full(s);
    track->full_s = full == 0 ? 0.0 : first_s + (double)full * s->step_s;
    double slope_db = slope(s, s->scratch, 0, s->count);
    double lag_s = 0.5 * t->seconds - (first_s + 0.5 * (double)(s->count - 1) * s->step_s);
    track->level = sqrt(0.5 * square) / gain * pow(10.0, slope_db * lag_s / 20.0);
    track->drift_db = slope_db * seconds;
    track->share = even_share(t, seconds);
    find_wander(s, track->frequency_hz, seconds, track);
    track->usable = true;
}

bool lds_tracker_finish(struct lds_tracker *tracker, double start_s, struct lds_track *track)
{
    memset(track, 0, sizeof *track);
    if (tracker->frames < 3)
        return true;
    size_t count = tracker->frames;
    double *room = malloc(3 * count * sizeof *room);
    if (!room)
        return false;
    struct series s = {count, (double)tracker->hop / tracker->rate_hz, room, room + count, room + 2 * count};
    double frame_s = (double)tracker->n / tracker->rate_hz;
    double seconds = s.step_s * (double)(count - 1) + frame_s;
    unwrap(tracker, &s);
    bool ok = find_jumps(&s, start_s, frame_s, track);
    if (ok)
        summarise(tracker, &s, start_s + 0.5 * frame_s, seconds, track);
    free(room);
    return ok;
}
