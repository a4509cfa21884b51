#include "measure/tone/tracker.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "grow.h"
#include "measure/statistics/median.h"
#include "measure/tone/envelope.h"
#include "measure/tone/wander.h"
#include "spectrum/density.h"
#include "spectrum/window.h"

enum { FEW_FRAMES = 40, FRAMES_MAX = 1 << 16, STEPS = LDS_SUSPECT_STEPS };
static const double SHORTEST_S = 0.05;
static const double MOTION_S = 0.0075, MOTION_HOP_S = 0.004;
static const double FOLLOWED = 0.01; /* relative change of the tone's frequency that can still be followed */
static const double JUMP_SIGMA = 7.0;
static const double JUMP_LEAST_RAD = 1e-5;                /* rounding of a tone without noise */
static const double RESTLESS_RAD = 1e-3, RESTLESS = 20.0; /* RESTLESS: times the noise */
static const double LOOK_S = 0.15, LOOK_PERIODS = 6.0;

/* The tone's motion: its phase in short frames, of which one in `every` is kept. */
struct motion {
    struct lds_envelope envelope;
    size_t every, seen, count, room;
    double last, turned;
    double *phase, *amplitude;
};

struct lds_tracker {
    double rate_hz, seconds, tone_hz;
    struct lds_envelope frame;
    size_t frames, room;
    double complex *envelope; /* at the centre of each frame; phase relative to the nominal tone from the first
                               * sample */
    struct motion motion;
};

/* At most a 64th of the capture, so that little is lost at its ends; at least long enough to keep the lobe clear of DC
 * and the second harmonic; and no more than FRAMES_MAX frames. */
static size_t frame_length(double rate_hz, double seconds, double tone_hz)
{
    double least = fmax((LDS_LOBE_BINS + 0.5) * rate_hz / tone_hz, seconds * rate_hz * STEPS / FRAMES_MAX);
    double n = fmax(least, rate_hz * fmin(SHORTEST_S, seconds / 64.0));
    n = fmin(n, rate_hz * seconds / 2.0);
    size_t whole = (size_t)n;
    return whole < 4 * STEPS ? 4 * STEPS : whole - whole % STEPS;
}

/* As short as the lobe's distance to DC allows, and so close that a tone off by FOLLOWED of its frequency advances by
 * no more than a third of a period from one frame to the next. */
static bool motion_init(struct motion *m, double rate_hz, double seconds, double tone_hz)
{
    double n = rate_hz * fmin(fmax((LDS_LOBE_BINS + 0.5) / tone_hz, MOTION_S), seconds / 4.0);
    double hop = fmin(fmin(rate_hz * MOTION_HOP_S, 0.5 * n), 0.33 * rate_hz / (FOLLOWED * tone_hz));
    size_t length = n < 16.0 ? 16 : (size_t)n, step = hop < 4.0 ? 4 : (size_t)hop;
    double apart = fmax(rate_hz * MOTION_HOP_S, rate_hz * seconds / FRAMES_MAX);
    m->every = (size_t)ceil(apart / (double)step - 0.5);
    m->every = m->every < 1 ? 1 : m->every;
    return lds_envelope_init(&m->envelope, rate_hz, tone_hz, length, step);
}

struct lds_tracker *lds_tracker_new(double rate_hz, double seconds, double tone_hz)
{
    struct lds_tracker *t = calloc(1, sizeof *t);
    if (!t)
        return NULL;
    t->rate_hz = rate_hz;
    t->seconds = seconds;
    t->tone_hz = tone_hz;
    size_t n = frame_length(rate_hz, seconds, tone_hz);
    if (!lds_envelope_init(&t->frame, rate_hz, tone_hz, n, n / STEPS) ||
        !motion_init(&t->motion, rate_hz, seconds, tone_hz)) {
        lds_tracker_free(t);
        return NULL;
    }
    return t;
}

void lds_tracker_free(void *state)
{
    struct lds_tracker *tracker = state;
    if (!tracker)
        return;
    lds_envelope_free(&tracker->frame);
    lds_envelope_free(&tracker->motion.envelope);
    free(tracker->envelope);
    free(tracker->motion.phase);
    free(tracker->motion.amplitude);
    free(tracker);
}

static double wrap(double x)
{
    return x - 2.0 * M_PI * round(x / (2.0 * M_PI));
}

static bool on_frame(void *context, double complex value)
{
    struct lds_tracker *t = context;
    if (t->frames == t->room) {
        size_t room = t->room ? 2 * t->room : 1024;
        if (!lds_resize(&t->envelope, room, sizeof *t->envelope))
            return false;
        t->room = room;
    }
    t->envelope[t->frames++] = value;
    return true;
}

static bool keep_motion(struct motion *m, double phase, double amplitude)
{
    if (m->count == m->room) {
        size_t room = m->room ? 2 * m->room : 1024;
        if (!lds_resize(&m->phase, room, sizeof *m->phase) || !lds_resize(&m->amplitude, room, sizeof *m->amplitude))
            return false;
        m->room = room;
    }
    m->phase[m->count] = phase;
    m->amplitude[m->count++] = amplitude;
    return true;
}

static bool on_motion(void *context, double complex value)
{
    struct motion *m = context;
    double phase = carg(value);
    m->turned += m->seen ? wrap(phase - m->last) : phase;
    m->last = phase;
    return m->seen++ % m->every != 0 || keep_motion(m, m->turned, cabs(value));
}

bool lds_tracker_push(void *state, const double *x, size_t n)
{
    struct lds_tracker *tracker = state;
    return lds_envelope_push(&tracker->frame, x, n, on_frame, tracker) &&
           lds_envelope_push(&tracker->motion.envelope, x, n, on_motion, &tracker->motion);
}

/* ---- after the pass ---- */

struct series {
    size_t count;
    double step_s;
    double *phase;     /* unwrapped, jumps removed */
    double *amplitude; /* peak */
    double *scratch;
};

/* The frequency at a frame: the median of the phase steps around it. */
static double frequency_at(const struct lds_tracker *t, const struct series *s, size_t frame)
{
    enum { REACH = 24 };
    double step[2 * REACH];
    size_t first = frame > REACH ? frame - REACH : 0, count = 0;
    for (size_t i = first; i + 1 < s->count && count < 2 * REACH; i++)
        step[count++] = s->phase[i + 1] - s->phase[i];
    return t->tone_hz + (count ? lds_median(step, count) / (2.0 * M_PI * s->step_s) : 0.0);
}

/* Whether the tone's level is much the same on both sides within reach: where it is switched or fades, the phase in
 * between means nothing. */
static bool is_steady(const struct series *s, size_t frame, size_t reach)
{
    enum { MOST = 64 };
    double value[2 * MOST], sorted[2 * MOST];
    size_t count = 0, off = 0;
    for (size_t k = STEPS / 2 + 1; k <= reach && k <= MOST; k++) {
        if (frame >= k)
            value[count++] = s->amplitude[frame - k];
        if (frame + k < s->count)
            value[count++] = s->amplitude[frame + k];
    }
    if (count == 0)
        return true;
    memcpy(sorted, value, count * sizeof *value);
    double median = lds_median(sorted, count);
    for (size_t i = 0; i < count; i++)
        off += !(value[i] > 0.5 * median && value[i] < 2.0 * median);
    return 4 * off <= count;
}

/* Too few frames to tell where to look, so all of the capture is searched. */
static bool suspect_all(const struct lds_tracker *t, const struct series *s, double start_s, struct lds_track *track)
{
    size_t places = (size_t)(t->seconds / track->look_s) + 1;
    track->jump_least_rad = JUMP_LEAST_RAD;
    track->few_frames = true;
    track->suspect = calloc(places, sizeof *track->suspect);
    for (size_t j = 0; track->suspect && j < places; j++)
        track->suspect[track->suspects++] = (struct lds_jump){.at_s = start_s + (double)j * track->look_s,
                                                              .phase_rad = NAN,
                                                              .tone_hz = frequency_at(t, s, j * s->count / places)};
    return track->suspect != NULL;
}

/* Whether the phase moves far more than the amplitude: noise moves the logarithm of the amplitude as much as the
 * phase. */
static bool is_restless(const struct series *s, double sigma_rad)
{
    for (size_t i = 0; i < s->count; i++)
        s->scratch[i] = log(fmax(s->amplitude[i], 1e-300));
    return sigma_rad > RESTLESS * lds_suspects_scatter(s->scratch, s->count);
}

/* Removes the jumps from the phase and keeps the places of all of them for a second look at the samples. */
static bool find_jumps(const struct lds_tracker *t, struct series *s, double start_s, double frame_s,
                       struct lds_track *track)
{
    struct lds_suspects suspects;
    track->look_s = fmax(fmax(LOOK_S, LOOK_PERIODS / t->tone_hz), 1.5 * frame_s);
    size_t apart = (size_t)(0.5 * track->look_s / s->step_s) + 1;
    if (s->count < FEW_FRAMES)
        return suspect_all(t, s, start_s, track);
    if (!lds_suspects_find(s->phase, s->count, apart, &suspects)) {
        free(suspects.suspect);
        return false;
    }
    track->jump_least_rad = fmax(JUMP_LEAST_RAD, JUMP_SIGMA * suspects.sigma_rad);
    track->restless = suspects.sigma_rad > RESTLESS_RAD && is_restless(s, suspects.sigma_rad);
    track->suspect = calloc(LDS_SUSPECTS_MAX, sizeof *track->suspect);
    for (size_t j = 0; track->suspect && j < suspects.count; j++) {
        const struct lds_suspect *one = &suspects.suspect[j];
        if (!is_steady(s, one->frame, 2 * apart))
            continue;
        track->suspect[track->suspects++] =
            (struct lds_jump){.at_s = start_s + (double)one->frame * s->step_s + 0.5 * frame_s,
                              .phase_rad = wrap(one->phase_rad),
                              .tone_hz = frequency_at(t, s, one->frame)};
    }
    free(suspects.suspect);
    return track->suspect != NULL;
}

/* Peak to peak of the frequency in frames of a second: the analysis of lines allows for this. */
static void find_slow(const struct series *s, double seconds, struct lds_track *track)
{
    size_t count = (size_t)(fmax(1.0, seconds / 64.0) / s->step_s) + 1;
    track->slow_hz = 0.0;
    if (count < 3 || s->count < 2 * count)
        return;
    double low = INFINITY, high = -INFINITY;
    size_t step = count / 4 > 0 ? count / 4 : 1;
    for (size_t i = 0; i + count <= s->count; i += step) {
        double f = lds_wander_slope(s->phase + i, count, s->step_s) / (2.0 * M_PI);
        low = fmin(low, f);
        high = fmax(high, f);
    }
    track->slow_hz = high - low;
}

/* Continues the phase across a jump as it was before. */
static void bridge(struct motion *m, double at, double reach)
{
    ptrdiff_t first = (ptrdiff_t)floor(at - reach) - 1, last = (ptrdiff_t)ceil(at + reach) + 1;
    ptrdiff_t end = (ptrdiff_t)m->count - 1;
    first = first < 0 ? 0 : first;
    last = last > end ? end : last;
    if (last - first < 1)
        return;
    double before = first > 0 ? m->phase[first] - m->phase[first - 1] : NAN;
    double after = last < end ? m->phase[last + 1] - m->phase[last] : NAN;
    double step = isnan(before) ? after : isnan(after) ? before : 0.5 * (before + after);
    double off = m->phase[last] - m->phase[first] - step * (double)(last - first);
    for (ptrdiff_t i = first; i <= end; i++)
        m->phase[i] = i < last ? m->phase[first] + step * (double)(i - first) : m->phase[i] - off;
}

/* Bridges the jumps, and also places that only looked like one: a click shifts the phase of a tone too. */
static void bridge_all(struct lds_tracker *t, double start_s, const struct lds_track *track)
{
    struct motion *m = &t->motion;
    double step_s = (double)(m->envelope.hop * m->every) / t->rate_hz,
           half_s = 0.5 * (double)m->envelope.n / t->rate_hz;
    double frame_s = (double)t->frame.n / t->rate_hz;
    for (size_t j = 0; j < track->jumps; j++)
        bridge(m, (track->jump[j].at_s - start_s - half_s) / step_s, half_s / step_s);
    for (size_t j = 0; j < track->suspects; j++)
        if (!isnan(track->suspect[j].phase_rad))
            bridge(m, (track->suspect[j].at_s - start_s - half_s) / step_s, (0.5 * frame_s + half_s) / step_s);
}

bool lds_tracker_wander(struct lds_tracker *tracker, double start_s, struct lds_track *track)
{
    struct motion *m = &tracker->motion;
    double *scratch = malloc((4 * m->count + 1) * sizeof *scratch);
    if (!scratch)
        return false;
    bridge_all(tracker, start_s, track);
    struct lds_motion motion = {
        .step_s = (double)(m->envelope.hop * m->every) / tracker->rate_hz,
        .first_s = start_s + 0.5 * (double)m->envelope.n / tracker->rate_hz,
        .count = m->count,
        .phase = m->phase,
        .amplitude = m->amplitude,
    };
    struct lds_wander wander;
    lds_wander_find(&motion, tracker->seconds, scratch, &wander);
    free(scratch);
    track->wander_ppm = wander.hz / track->frequency_hz * 1e6;
    track->wander_u_ppm = wander.u_hz / track->frequency_hz * 1e6;
    track->unfollowed_rad = wander.unfollowed_rad;
    return true;
}

void lds_track_free(struct lds_track *track)
{
    free(track->suspect);
    free(track->jump);
    *track = (struct lds_track){0};
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

/* An even sum of frames weighs the capture evenly except at its ends; n/hop frames cover a sample. */
static double even_share(const struct lds_tracker *t, double seconds)
{
    double even_s = (double)t->frames * (double)t->frame.hop / t->rate_hz;
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

/* first_s: centre of the first frame. The frames end before the capture does, so their mean belongs to a time before
 * its middle; the slope of the level corrects for that. */
static void summarise(const struct lds_tracker *t, struct series *s, double first_s, double seconds,
                      struct lds_track *track)
{
    double offset_hz = lds_wander_slope(s->phase, s->count, s->step_s) / (2.0 * M_PI);
    track->frequency_hz = t->tone_hz + offset_hz;
    double gain = lds_window_transform(&lds_window_analysis, offset_hz * (double)t->frame.n / t->rate_hz);
    double square = 0.0;
    for (size_t i = 0; i < s->count; i++) {
        square += s->amplitude[i] * s->amplitude[i] / (double)s->count;
        s->scratch[i] = 20.0 * log10(fmax(s->amplitude[i], 1e-300));
    }
    size_t full = first_full(s);
    track->full_s = full == 0 ? 0.0 : first_s + (double)full * s->step_s;
    double slope_db = lds_wander_slope(s->scratch, s->count, s->step_s);
    double lag_s = 0.5 * t->seconds - (first_s + 0.5 * (double)(s->count - 1) * s->step_s);
    track->level = sqrt(0.5 * square) / gain * pow(10.0, slope_db * lag_s / 20.0);
    track->drift_db = slope_db * seconds;
    track->share = even_share(t, seconds);
    find_slow(s, seconds, track);
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
    struct series s = {count, (double)tracker->frame.hop / tracker->rate_hz, room, room + count, room + 2 * count};
    double frame_s = (double)tracker->frame.n / tracker->rate_hz;
    double seconds = s.step_s * (double)(count - 1) + frame_s;
    unwrap(tracker, &s);
    bool ok = find_jumps(tracker, &s, start_s, frame_s, track);
    if (ok)
        summarise(tracker, &s, start_s + 0.5 * frame_s, seconds, track);
    free(room);
    return ok;
}
