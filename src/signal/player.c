/* A test signal as a function of time. */
#include <math.h>
#include <stdlib.h>

#include "loadside/signal.h"
#include "signal/noise.h"

struct lds_player {
    struct lds_signal_spec spec;
    double peak[2]; /* of each tone; [0] of everything else */
    struct lds_noise noise;
};

static double amplitude(double dbfs)
{
    return pow(10.0, dbfs / 20.0);
}

/* From 0 to 1 while x goes from 0 to 1: a raised cosine. */
static double rise(double x)
{
    return x <= 0.0 ? 0.0 : x >= 1.0 ? 1.0 : 0.5 - 0.5 * cos(M_PI * x);
}

/* The envelope of something that lasts from 0 to `seconds`. */
static double fade(const struct lds_signal_spec *spec, double t, double seconds)
{
    if (t < 0.0 || t > seconds)
        return 0.0;
    const double in = spec->fade_in_s > 0.0 ? rise(t / spec->fade_in_s) : 1.0;
    const double out = spec->fade_out_s > 0.0 ? rise((seconds - t) / spec->fade_out_s) : 1.0;
    return in * out;
}

/* Exponential: its frequency is from (to/from)^(t/seconds), and its phase begins at 0 (Farina 2000). */
static double turns_of_sweep(const struct lds_signal_spec *spec, double in)
{
    const double log_ratio = log(spec->frequency_hz[1] / spec->frequency_hz[0]);
    return spec->frequency_hz[0] * spec->seconds / log_ratio * expm1(in * log_ratio / spec->seconds);
}

static double sweep(const struct lds_player *player, double t)
{
    const struct lds_signal_spec *spec = &player->spec;
    if (t < 0.0 || t >= spec->seconds * spec->repeats)
        return 0.0;
    const double in = fmod(t, spec->seconds), turns = turns_of_sweep(spec, in);
    return player->peak[0] * fade(spec, in, spec->seconds) * sin(2.0 * M_PI * (turns - floor(turns)));
}

/* Where a sweep plays at full level, step by step: the turns from one sample to the next grow by a constant factor.
 * Every RUN samples it begins anew, so that errors stay below 1e-12 of full scale. Returns how many samples it
 * rendered; 0: the sweep is not at full level throughout the next RUN samples. */
static size_t run_of_sweep(const struct lds_player *player, double t, double step_s, size_t count, double *x)
{
    enum { RUN = 128 };
    const struct lds_signal_spec *spec = &player->spec;
    const double in = t >= 0.0 ? fmod(t, spec->seconds) : -1.0, last = in + RUN * step_s;
    if (count < RUN || t >= spec->seconds * spec->repeats || in < spec->fade_in_s ||
        last > spec->seconds - spec->fade_out_s)
        return 0;
    const double growth = step_s * log(spec->frequency_hz[1] / spec->frequency_hz[0]) / spec->seconds;
    const double factor = exp(growth);
    double turns = turns_of_sweep(spec, in);
    turns -= floor(turns);
    double more = spec->frequency_hz[0] * exp(in * growth / step_s) * expm1(growth) / growth * step_s;
    for (size_t i = 0; i < RUN; i++) {
        x[i] = player->peak[0] * sin(2.0 * M_PI * (turns - floor(turns)));
        turns += more;
        more *= factor;
    }
    return RUN;
}

/* A sine. Whole turns are taken off first, so that the argument of sin stays small. */
static double tone(double hz, double t)
{
    const double turns = hz * t;
    return sin(2.0 * M_PI * (turns - floor(turns)));
}

/* The level goes from one step to the next within the fade, at the beginning of each step. */
static double staircase(const struct lds_player *player, double t)
{
    const struct lds_signal_spec *spec = &player->spec;
    const int steps = lds_signal_steps(spec);
    int step = (int)(t / spec->hold_s);
    step = step < 0 ? 0 : step >= steps ? steps - 1 : step;
    const double at = t - step * spec->hold_s, here = amplitude(lds_signal_step_dbfs(spec, step));
    const double before = step > 0 ? amplitude(lds_signal_step_dbfs(spec, step - 1)) : 0.0;
    const double into = step > 0 ? before + (here - before) * rise(at / spec->fade_in_s) : here;
    return into * fade(spec, t, spec->seconds) * tone(spec->frequency_hz[0], t);
}

static double burst(const struct lds_player *player, double t)
{
    const struct lds_signal_spec *spec = &player->spec;
    const double in = t - floor(t / (spec->on_s + spec->off_s)) * (spec->on_s + spec->off_s);
    const double left = spec->seconds - (t - in); /* the last may be cut short */
    return player->peak[0] * fade(spec, in, fmin(spec->on_s, left)) * tone(spec->frequency_hz[0], t);
}

static double sine(const struct lds_player *player, double t)
{
    const struct lds_signal_spec *spec = &player->spec;
    return player->peak[0] * fade(spec, t, spec->seconds) * tone(spec->frequency_hz[0], t);
}

static double two_tones(const struct lds_player *player, double t)
{
    const struct lds_signal_spec *spec = &player->spec;
    return fade(spec, t, spec->seconds) *
           (player->peak[0] * tone(spec->frequency_hz[0], t) + player->peak[1] * tone(spec->frequency_hz[1], t));
}

static double silence(const struct lds_player *player, double t)
{
    (void)player;
    (void)t;
    return 0.0;
}

/* What plays each kind, at a time of the signal proper. Noise has only its samples. */
static double (*const plays[LDS_SIGNALS])(const struct lds_player *player, double t) = {
    [LDS_SIGNAL_SILENCE] = silence,     [LDS_SIGNAL_SINE] = sine,   [LDS_SIGNAL_TWO_TONE] = two_tones,
    [LDS_SIGNAL_SWEEP] = sweep,         [LDS_SIGNAL_BURST] = burst, [LDS_SIGNAL_NOISE] = silence,
    [LDS_SIGNAL_STAIRCASE] = staircase,
};

static double value(const struct lds_player *player, double t)
{
    const struct lds_signal_spec *spec = &player->spec;
    const bool within = t >= 0.0 && t <= spec->seconds;
    return within || spec->kind == LDS_SIGNAL_SWEEP ? plays[spec->kind](player, t) : 0.0; /* a sweep repeats */
}

struct lds_player *lds_player_new(const struct lds_signal_spec *spec)
{
    struct lds_player *player = plays[spec->kind] ? calloc(1, sizeof *player) : NULL;
    if (!player)
        return NULL;
    player->spec = *spec;
    player->peak[0] = amplitude(spec->level_dbfs);
    if (spec->kind == LDS_SIGNAL_TWO_TONE) {
        player->peak[1] = player->peak[0] / (1.0 + spec->ratio);
        player->peak[0] -= player->peak[1];
    }
    if (spec->kind != LDS_SIGNAL_NOISE || lds_noise_make(spec, &player->noise))
        return player;
    lds_player_free(player);
    return NULL;
}

static double noise(const struct lds_player *player, int64_t i)
{
    const struct lds_signal_spec *spec = &player->spec;
    if (i < 0 || i >= lds_signal_proper(spec))
        return 0.0;
    return player->peak[0] * player->noise.period[i % spec->period] *
           fade(spec, (double)i / spec->rate_hz, spec->seconds);
}

void lds_player_render(const struct lds_player *player, int64_t first, size_t count, double *x)
{
    for (size_t i = 0; i < count; i++) {
        const int64_t at = first + (int64_t)i;
        const bool inside = at >= 0 && at < lds_signal_proper(&player->spec);
        x[i] = !inside                ? 0.0
               : player->noise.period ? noise(player, at)
                                      : value(player, (double)at / player->spec.rate_hz);
    }
}

void lds_player_render_at(const struct lds_player *player, double first_s, double step_s, size_t count, double *x)
{
    for (size_t i = 0; i < count;) {
        const double t = first_s + (double)i * step_s;
        const size_t done =
            player->spec.kind == LDS_SIGNAL_SWEEP ? run_of_sweep(player, t, step_s, count - i, x + i) : 0;
        if (done == 0)
            x[i] = value(player, t);
        i += done > 0 ? done : 1;
    }
}

void lds_player_free(struct lds_player *player)
{
    if (!player)
        return;
    lds_noise_free(&player->noise);
    free(player);
}
