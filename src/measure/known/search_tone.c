#include "measure/known/search_tone.h"

#include <complex.h>
#include <math.h>
#include <stdlib.h>

#include "grow.h"

static const double FRAME_S = 0.005, CYCLES = 6.0;
static const double RANGE = 1e6; /* 60 dB */
enum { AROUND = 8 /* frames of silence that belong to the signal, on each side */ };

struct frames {
    double rate_hz, hz;
    size_t length;
    double complex turn, at; /* the reference oscillator */
    double complex sum;
    double power;
    size_t filled;
    size_t count;
    struct frame {
        float tone, power; /* mean squares: of the tone, and of all */
        float size;        /* as it is compared */
    } * frame;
};

struct lds_tone_search {
    bool steps; /* a staircase */
    struct frames capture, reference;
};

static void begin_frames(struct frames *f, const struct lds_signal_spec *spec, double rate_hz)
{
    const double hz = spec->frequency_hz[0];
    const double lowest = spec->kind == LDS_SIGNAL_TWO_TONE ? fmin(hz, spec->frequency_hz[1]) : hz;
    *f = (struct frames){.rate_hz = rate_hz,
                         .hz = hz,
                         .length = (size_t)(fmax(FRAME_S, CYCLES / lowest) * rate_hz),
                         .turn = cexp(-I * 2.0 * M_PI * hz / rate_hz),
                         .at = 1.0};
}

static bool push(struct frames *f, const double *x, size_t n)
{
    for (size_t i = 0; i < n; i++) {
        f->sum += x[i] * f->at;
        f->power += x[i] * x[i];
        f->at *= f->turn;
        if (++f->filled < f->length)
            continue;
        struct frame *frame = lds_grow(&f->frame, &f->count, sizeof *frame);
        if (!frame)
            return false;
        const double scale = (double)f->length;
        *frame = (struct frame){.tone = (float)(2.0 * creal(f->sum * conj(f->sum)) / (scale * scale)),
                                .power = (float)(f->power / scale)};
        f->sum = 0.0;
        f->power = 0.0;
        f->filled = 0;
        f->at /= cabs(f->at);
    }
    return true;
}

static bool make_reference(struct lds_tone_search *s, const struct lds_signal_spec *spec, double rate_hz)
{
    enum { BLOCK = 4096 };
    double x[BLOCK];
    struct lds_player *player = lds_player_new(spec);
    bool memory = player;
    const double frames = (double)lds_signal_proper(spec) / spec->rate_hz * rate_hz;
    begin_frames(&s->reference, spec, rate_hz);
    for (double at = 0.0; memory && at < frames; at += BLOCK) {
        lds_player_render_at(player, at / rate_hz, 1.0 / rate_hz, BLOCK, x);
        memory = push(&s->reference, x, BLOCK);
    }
    lds_player_free(player);
    return memory;
}

struct lds_tone_search *lds_tone_search_new(const struct lds_signal_spec *spec, double rate_hz)
{
    struct lds_tone_search *s = calloc(1, sizeof *s);
    if (s && make_reference(s, spec, rate_hz)) {
        s->steps = spec->kind == LDS_SIGNAL_STAIRCASE;
        begin_frames(&s->capture, spec, rate_hz);
        return s;
    }
    lds_tone_search_free(s);
    return NULL;
}

bool lds_tone_search_push(struct lds_tone_search *s, const double *x, size_t n)
{
    return push(&s->capture, x, n);
}

/* Envelopes are compared in amplitude or in decibels above RANGE below the loudest: an amplifier that limits changes
 * the shape of a staircase much less in decibels. */
static void set_sizes(struct frames *f, bool decibels)
{
    float most = 0.0f;
    for (size_t i = 0; i < f->count; i++)
        most = fmaxf(most, f->frame[i].tone);
    for (size_t i = 0; i < f->count; i++) {
        const double tone = f->frame[i].tone;
        f->frame[i].size = (float)(decibels && most > 0.0f ? log1p(tone / most * RANGE) : sqrt(tone));
    }
}

static double amplitude(const struct frames *f, long i)
{
    return i >= 0 && (size_t)i < f->count ? (double)f->frame[i].size : 0.0;
}

/* How alike the envelopes are with the reference at a frame: the correlation coefficient, without the mean taken out,
 * over the signal and some silence on both sides. */
static double likeness(const struct lds_tone_search *s, long at)
{
    double product = 0.0, own = 0.0, reference = 0.0;
    for (long k = -AROUND; k < (long)s->reference.count + AROUND; k++) {
        const double a = amplitude(&s->capture, at + k), b = amplitude(&s->reference, k);
        product += a * b;
        own += a * a;
        reference += b * b;
    }
    return own > 0.0 && reference > 0.0 ? product / sqrt(own * reference) : 0.0;
}

/* The share of the tone in the total level, where the reference plays. */
static double share(const struct lds_tone_search *s, long at)
{
    double tone = 0.0, power = 0.0;
    for (long k = 0; k < (long)s->reference.count; k++)
        if (at + k >= 0 && (size_t)(at + k) < s->capture.count && s->reference.frame[k].tone > 0.0f) {
            tone += s->capture.frame[at + k].tone;
            power += s->capture.frame[at + k].power;
        }
    return power > 0.0 ? fmin(tone / power, 1.0) : 0.0;
}

/* Noise alone may have an even envelope as well, but the share of the tone in it is small. */
static double match_at(const struct lds_tone_search *s, long at)
{
    return likeness(s, at) * share(s, at);
}

struct best {
    double match;
    long at;
};

static struct best search(const struct lds_tone_search *s, long first, long last, long step)
{
    struct best best = {-1.0, first};
    for (long at = first; at <= last; at += step) {
        const double match = match_at(s, at);
        if (match > best.match)
            best = (struct best){match, at};
    }
    return best;
}

void lds_tone_search_finish(struct lds_tone_search *s, double *begin, double *match, double *like)
{
    const long last = (long)s->capture.count - (long)s->reference.count / 4;
    const long step = (long)fmax(1.0, (double)s->reference.count * (double)s->capture.count / 1e8); /* bounded work */
    set_sizes(&s->reference, s->steps);
    set_sizes(&s->capture, s->steps);
    struct best best = search(s, -(long)s->reference.count / 4, last, step);
    if (step > 1)
        best = search(s, best.at - step + 1, best.at + step - 1, 1);
    /* A signal that is cut short fits at many places. At the latest of them it begins with the tone. */
    for (long at = best.at; likeness(s, best.at) < 0.9 && at <= last; at++)
        if (match_at(s, at) >= 0.998 * best.match)
            best.at = at;
    set_sizes(&s->reference, false);
    set_sizes(&s->capture, false);
    *begin = (double)best.at * (double)s->capture.length;
    *match = match_at(s, best.at);
    *like = likeness(s, best.at);
}

void lds_tone_search_free(struct lds_tone_search *s)
{
    if (!s)
        return;
    free(s->capture.frame);
    free(s->reference.frame);
    free(s);
}
