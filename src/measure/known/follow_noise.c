#include <math.h>
#include <stdlib.h>

#include "measure/known/follow.h"
#include "measure/known/resample.h"
#include "spectrum/fft.h"

enum { PIECE = 1 << 14, PIECES_MOST = 32, ROUNDS = 3 };
static const double LEAST_SHARE = 0.02;

/* A piece of the noise, at the player's rate, as it is played and as it was captured. */
struct work {
    const struct lds_stretch *stretch;
    const struct lds_player *player;
    size_t n;
    double *x;
    double complex *played, *captured, *product;
    fftw_plan to_played, to_captured, back;
};

struct delays {
    size_t count;
    double t_s[PIECES_MOST], delay_s[PIECES_MOST], sign;
    double share; /* of the level, on average over all pieces */
    int pieces;
};

static bool open_work(struct work *w, const struct lds_stretch *stretch, const struct lds_player *player, size_t n)
{
    *w = (struct work){.stretch = stretch,
                       .player = player,
                       .n = n,
                       .x = malloc(n * sizeof *w->x),
                       .played = malloc((n / 2 + 1) * sizeof *w->played),
                       .captured = malloc((n / 2 + 1) * sizeof *w->captured),
                       .product = malloc(n * sizeof *w->product)};
    if (!w->x || !w->played || !w->captured || !w->product)
        return false;
    w->to_played = lds_fft_real((int)n, w->x, w->played);
    w->to_captured = lds_fft_real((int)n, w->x, w->captured);
    w->back = lds_fft_complex((int)n, w->product, FFTW_BACKWARD);
    return w->to_played && w->to_captured && w->back;
}

static void close_work(struct work *w)
{
    lds_fft_free(w->to_played);
    lds_fft_free(w->to_captured);
    lds_fft_free(w->back);
    free(w->x);
    free(w->played);
    free(w->captured);
    free(w->product);
}

static void window(double *x, size_t n)
{
    for (size_t i = 0; i < n; i++)
        x[i] *= 0.5 - 0.5 * cos(2.0 * M_PI * (double)i / (double)n);
}

/* The delay, in samples of the player, at which the correlation is highest, from its phase in each bin: a line through
 * 0 (or half a turn, when inverted), weighted by level. */
static double delay_of(struct work *w, double *sign, double *share)
{
    const size_t bins = w->n / 2;
    double in2 = 0.0, out2 = 0.0, highest = 0.0;
    size_t where = 0;
    for (size_t k = 0; k < w->n; k++)
        w->product[k] = 0.0;
    for (size_t k = 1; k < bins; k++) {
        w->product[k] = w->captured[k] * conj(w->played[k]);
        in2 += creal(w->played[k] * conj(w->played[k]));
        out2 += creal(w->captured[k] * conj(w->captured[k]));
    }
    fftw_execute(w->back);
    for (size_t i = 0; i < w->n; i++)
        if (cabs(w->product[i]) > highest) {
            highest = cabs(w->product[i]);
            where = i;
        }
    double delay = where < w->n / 2 ? (double)where : (double)where - (double)w->n;
    *sign = creal(w->product[where]) < 0.0 ? -1.0 : 1.0;
    *share = in2 > 0.0 && out2 > 0.0 ? highest * highest / in2 / out2 : 0.0;
    for (int round = 0; round < 3; round++) {
        double product = 0.0, square = 0.0;
        for (size_t k = 1; k < bins; k++) {
            const double turn = 2.0 * M_PI * (double)k / (double)w->n;
            const double complex c = w->captured[k] * conj(w->played[k]) * cexp(I * turn * delay) * *sign;
            product -= turn * cimag(c);
            square += turn * turn * cabs(c);
        }
        delay += square > 0.0 ? product / square : 0.0;
    }
    return delay;
}

static void measure(struct work *w, const struct lds_known *known, struct delays *delays)
{
    const double rate_hz = w->stretch->rate_hz, step = lds_known_frames(known, rate_hz) / known->spec->rate_hz;
    const int64_t proper = lds_signal_proper(known->spec), last = proper - (int64_t)w->n;
    const int pieces = last < PIECES_MOST ? 1 : PIECES_MOST;
    double sign = 0.0;
    *delays = (struct delays){.pieces = pieces};
    for (int i = 0; i < pieces; i++) {
        const int64_t at = pieces > 1 ? last * i / (pieces - 1) : 0;
        const double first = known->begin - w->stretch->first + (double)at * step;
        double one_sign, share;
        if (first < 0.0 || first + (double)w->n * step > (double)w->stretch->n)
            continue;
        lds_player_render(w->player, at, w->n, w->x);
        window(w->x, w->n);
        fftw_execute(w->to_played);
        lds_resample(w->stretch->x, w->stretch->n, first, step, w->n, w->x);
        window(w->x, w->n);
        fftw_execute(w->to_captured);
        const double delay = delay_of(w, &one_sign, &share);
        delays->share += share / pieces;
        if (share < LEAST_SHARE)
            continue;
        sign += one_sign;
        delays->t_s[delays->count] = ((double)at + 0.5 * (double)w->n) / known->spec->rate_hz;
        delays->delay_s[delays->count++] = delay / known->spec->rate_hz;
    }
    delays->sign = sign;
}

/* A line through the delays: the clock is its slope. */
static void line(const struct delays *d, double rate_hz, struct lds_known *known)
{
    double t = 0.0, delay = 0.0, tt = 0.0, td = 0.0, left = 0.0;
    const double n = (double)d->count;
    for (size_t i = 0; i < d->count; i++) {
        t += d->t_s[i] / n;
        delay += d->delay_s[i] / n;
    }
    for (size_t i = 0; i < d->count; i++) {
        tt += (d->t_s[i] - t) * (d->t_s[i] - t);
        td += (d->t_s[i] - t) * (d->delay_s[i] - delay);
    }
    const double slope = tt > 0.0 ? td / tt : 0.0;
    for (size_t i = 0; i < d->count; i++)
        left += pow(d->delay_s[i] - delay - slope * (d->t_s[i] - t), 2.0);
    const double variance = left / fmax(n - 2.0, 1.0);
    known->begin += (delay - slope * t) * rate_hz;
    known->clock_ppm += 1e6 * slope;
    known->u_clock_ppm = d->count > 2 ? 1e6 * sqrt(variance / tt) : (double)NAN;
    known->u_begin = d->count > 2 ? rate_hz * sqrt(variance / n + t * t * variance / tt) : (double)NAN;
    known->inverted = d->sign < 0.0;
}

bool lds_follow_noise(const struct lds_stretch *stretch, struct lds_known *known)
{
    struct lds_player *player = lds_player_new(known->spec);
    struct work work = {0};
    struct delays delays = {0};
    size_t n = PIECE;
    while (n > 256 && 4 * (int64_t)n > lds_signal_proper(known->spec))
        n /= 2;
    const bool memory = player && open_work(&work, stretch, player, n);
    known->found = true;
    for (int round = 0; memory && known->found && round < ROUNDS; round++) {
        measure(&work, known, &delays);
        known->match = delays.share;
        known->found = 3 * (int)delays.count > delays.pieces;
        if (known->found)
            line(&delays, stretch->rate_hz, known);
    }
    close_work(&work);
    lds_player_free(player);
    return memory;
}
