#include "measure/known/search.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "measure/known/resample.h"
#include "spectrum/decimate.h"
#include "spectrum/fft.h"

static const double LOWEST_RATE_HZ = 3000.0;
static const double PASSBAND = 0.35;     /* share of the decimated rate */
static const double PIECE_S = 1.0;       /* of noise: over longer ones clocks would drift apart */
static const double LEAST_OF_BEST = 0.7; /* a later repeat may match slightly better, but the first is wanted */
static const double APART_S = 0.05;
static const double QUIET = 1e-3; /* -30 dB of the loudest stretch: too quiet for the signal */
enum { CHUNK = 4096, PEAKS = 64 };

struct peak {
    double at; /* decimated samples */
    double match, energy;
};

struct lds_search {
    double rate_hz; /* decimated */
    double scale;   /* frames of the capture in one decimated sample */
    double delay;   /* frames before the first decimated sample */
    struct lds_decimator *decimator;
    size_t piece;     /* samples of what is searched for */
    double energy;    /* its sum of squares */
    size_t n, filled; /* length of a transform; samples in x */
    double *x;
    double complex *points, *filter;
    fftw_plan forward, backward;
    double first;   /* decimated sample at x[0] */
    double loudest; /* the highest sum of squares so far, next to which a quiet stretch is not a match */
    size_t peaks;
    struct peak peak[PEAKS];
};

/* Length of the piece that is searched for, from the beginning of the signal. Of a sweep, it is the part up to the end
 * of the passband. */
static size_t piece_length(const struct lds_signal_spec *spec, double rate_hz)
{
    double seconds = fmin(PIECE_S, spec->seconds);
    if (spec->kind == LDS_SIGNAL_NOISE) /* a longer piece would also fit one period earlier */
        seconds = fmin(seconds, (double)spec->period / spec->rate_hz);
    if (spec->kind == LDS_SIGNAL_SWEEP) {
        const double *hz = spec->frequency_hz, log_ratio = log(hz[1] / hz[0]);
        const double share = log(fmax(PASSBAND * rate_hz / hz[0], 1.1)) / log_ratio;
        seconds = spec->seconds * fmin(share, 1.0);
    }
    return (size_t)fmax(seconds * rate_hz, 16.0);
}

/* Noise at the decimated rate: only its lines in the passband. */
static bool render_noise(const struct lds_player *player, const struct lds_signal_spec *spec, double rate_hz, double *x,
                         size_t count)
{
    const double step = spec->rate_hz / rate_hz;
    const size_t period = (size_t)spec->period, stretch = (size_t)((double)count * step) + 128;
    double complex *line = malloc(period * sizeof *line);
    double *slow = malloc(stretch * sizeof *slow);
    bool memory = line && slow;
    fftw_plan to = memory ? lds_fft_complex((int)period, line, FFTW_FORWARD) : NULL;
    fftw_plan from = memory ? lds_fft_complex((int)period, line, FFTW_BACKWARD) : NULL;
    memory = to && from;
    if (memory) {
        for (size_t i = 0; i < period; i++) {
            double one;
            lds_player_render(player, (int64_t)i, 1, &one);
            line[i] = one;
        }
        fftw_execute(to);
        for (size_t k = 0; k < period; k++) {
            const double hz = (double)(k <= period / 2 ? k : period - k) * spec->rate_hz / (double)period;
            line[k] *= hz < PASSBAND * rate_hz ? 1.0 / (double)period : 0.0;
        }
        fftw_execute(from);
        for (size_t i = 0; i < stretch; i++)
            slow[i] = creal(line[i % period]);
        lds_resample(slow, stretch, 0.0, step, count, x);
    }
    lds_fft_free(to);
    lds_fft_free(from);
    free(line);
    free(slow);
    return memory;
}

static bool render(const struct lds_signal_spec *spec, double rate_hz, double *x, size_t count)
{
    struct lds_player *player = lds_player_new(spec);
    bool memory = player;
    if (player && spec->kind == LDS_SIGNAL_NOISE)
        memory = render_noise(player, spec, rate_hz, x, count);
    else if (player)
        lds_player_render_at(player, 0.0, 1.0 / rate_hz, count, x);
    for (size_t i = 0, fade = count / 10; memory && i < fade; i++)
        x[count - 1 - i] *= 0.5 - 0.5 * cos(M_PI * (double)i / (double)fade);
    lds_player_free(player);
    return memory;
}

/* The conjugate of the piece's spectrum, with positive frequencies only, so that the magnitude of the output is an
 * envelope. */
static bool make_filter(struct lds_search *s, const struct lds_signal_spec *spec)
{
    if (!render(spec, s->rate_hz, s->x, s->piece))
        return false;
    for (size_t i = 0; i < s->n; i++)
        s->points[i] = i < s->piece ? s->x[i] : 0.0;
    for (size_t i = 0; i < s->piece; i++)
        s->energy += s->x[i] * s->x[i];
    fftw_execute(s->forward);
    for (size_t k = 0; k < s->n; k++)
        s->filter[k] = k > 0 && k < s->n / 2 ? 2.0 * conj(s->points[k]) / (double)s->n : 0.0;
    return true;
}

struct lds_search *lds_search_new(const struct lds_signal_spec *spec, double rate_hz)
{
    struct lds_search *s = calloc(1, sizeof *s);
    int shift = 0;
    if (!s)
        return NULL;
    while (rate_hz / ldexp(2.0, shift) >= LOWEST_RATE_HZ)
        shift++;
    s->scale = ldexp(1.0, shift);
    s->rate_hz = rate_hz / s->scale;
    s->piece = piece_length(spec, s->rate_hz);
    s->n = 1024;
    while (s->n < 2 * s->piece)
        s->n *= 2;
    s->decimator = lds_decimator_new(shift, 0.4, CHUNK);
    s->x = calloc(s->n, sizeof *s->x);
    s->points = malloc(s->n * sizeof *s->points);
    s->filter = malloc(s->n * sizeof *s->filter);
    bool memory = s->decimator && s->x && s->points && s->filter;
    s->forward = memory ? lds_fft_complex((int)s->n, s->points, FFTW_FORWARD) : NULL;
    s->backward = memory ? lds_fft_complex((int)s->n, s->points, FFTW_BACKWARD) : NULL;
    if (!s->forward || !s->backward || !make_filter(s, spec)) {
        lds_search_free(s);
        return NULL;
    }
    s->delay = (double)lds_decimator_delay(s->decimator);
    memset(s->x, 0, s->n * sizeof *s->x);
    s->filled = s->piece / 10; /* zeros before the capture, so that it may begin within the signal */
    s->first = -(double)s->filled;
    return s;
}

/* Keeps the best peak, and others that are about as good and far enough apart. */
static void note(struct lds_search *s, const struct peak *one)
{
    const double apart = APART_S * s->rate_hz;
    double best = one->match;
    size_t kept = 0;
    for (size_t i = 0; i < s->peaks; i++) {
        if (s->peak[i].energy < QUIET * s->loudest)
            continue;
        if (fabs(s->peak[i].at - one->at) < apart && s->peak[i].match >= one->match)
            return;
        best = fmax(best, s->peak[i].match);
    }
    if (one->match < LEAST_OF_BEST * best)
        return;
    for (size_t i = 0; i < s->peaks; i++)
        if (s->peak[i].match >= LEAST_OF_BEST * best && s->peak[i].energy >= QUIET * s->loudest &&
            fabs(s->peak[i].at - one->at) >= apart)
            s->peak[kept++] = s->peak[i];
    if (kept < PEAKS)
        s->peak[kept++] = *one;
    s->peaks = kept;
}

/* The highest point of every stretch; the match is the correlation coefficient. */
static void look(struct lds_search *s, size_t valid)
{
    const size_t stretch = (size_t)(APART_S * s->rate_hz) + 1;
    double energy = 0.0;
    struct peak highest = {0};
    for (size_t i = 0; i < s->piece; i++)
        energy += s->x[i] * s->x[i];
    for (size_t i = 0; i < valid; i++) {
        s->loudest = fmax(s->loudest, energy);
        const double level = fmax(energy, QUIET * s->loudest) * s->energy;
        const double match = level > 0.0 ? cabs(s->points[i]) / sqrt(level) : 0.0;
        if (match > highest.match)
            highest = (struct peak){s->first + (double)i, fmin(match, 1.0), energy};
        if (i % stretch == stretch - 1 || i == valid - 1) {
            if (highest.match > 0.0)
                note(s, &highest);
            highest.match = 0.0;
        }
        energy = fmax(energy + s->x[i + s->piece] * s->x[i + s->piece] - s->x[i] * s->x[i], 0.0);
    }
}

static void transform(struct lds_search *s)
{
    const size_t valid = s->n - s->piece;
    for (size_t i = 0; i < s->n; i++)
        s->points[i] = s->x[i];
    fftw_execute(s->forward);
    for (size_t k = 0; k < s->n; k++)
        s->points[k] *= s->filter[k];
    fftw_execute(s->backward);
    look(s, valid);
    memmove(s->x, s->x + valid, s->piece * sizeof *s->x);
    s->filled = s->piece;
    s->first += (double)valid;
}

static void add(struct lds_search *s, const double *x, size_t n)
{
    while (n > 0) {
        const size_t part = n < s->n - s->filled ? n : s->n - s->filled;
        memcpy(s->x + s->filled, x, part * sizeof *x);
        s->filled += part;
        x += part;
        n -= part;
        if (s->filled == s->n)
            transform(s);
    }
}

bool lds_search_push(struct lds_search *s, const double *x, size_t n)
{
    while (n > 0) {
        const size_t part = n < CHUNK ? n : CHUNK;
        const double *out;
        size_t produced;
        lds_decimator_push(s->decimator, x, part, &out, &produced);
        add(s, out, produced);
        x += part;
        n -= part;
    }
    return true;
}

void lds_search_finish(struct lds_search *s, double *begin, double *match)
{
    memset(s->x + s->filled, 0, (s->n - s->filled) * sizeof *s->x);
    transform(s);
    *begin = NAN;
    *match = 0.0;
    for (size_t i = 0; i < s->peaks; i++)
        if (s->peak[i].energy >= QUIET * s->loudest &&
            (isnan(*begin) || s->peak[i].at * s->scale + s->delay < *begin)) {
            *begin = s->peak[i].at * s->scale + s->delay;
            *match = s->peak[i].match;
        }
}

void lds_search_free(struct lds_search *s)
{
    if (!s)
        return;
    lds_decimator_free(s->decimator);
    lds_fft_free(s->forward);
    lds_fft_free(s->backward);
    free(s->x);
    free(s->points);
    free(s->filter);
    free(s);
}
