/* What was played is recognised, whatever its frequency, level, length and what the amplifier adds. A number on the
 * command line: that many captures of each kind. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "loadside/measurement.h"
#include "loadside/series.h"
#include "simulate/measured.h"
#include "simulate/signals.h"

static int runs = 2;

struct scene {
    struct sim_random random;
    double rate_hz, seconds, *x;
    size_t n;
};

static double between(struct scene *s, double low, double high)
{
    return sim_random_between(&s->random, low, high);
}

static double log_between(struct scene *s, double low, double high)
{
    return sim_random_log_between(&s->random, low, high);
}

static double amplitude(struct scene *s, double low_db, double high_db)
{
    return pow(10.0, between(s, low_db, high_db) / 20.0);
}

static void begin(struct scene *s, uint64_t seed, double shortest_s, double longest_s)
{
    sim_random_seed(&s->random, seed);
    s->rate_hz = seed % 3 ? 48000.0 : 44100.0;
    s->seconds = between(s, shortest_s, longest_s);
    s->n = (size_t)(s->seconds * s->rate_hz);
    s->x = sim_samples(s->n);
}

/* Harmonics and noise of an amplifier, and mostly hum. */
static void add_amplifier(struct scene *s)
{
    sim_add_white(s->x, s->n, s->rate_hz, amplitude(s, -150.0, -125.0), &s->random);
    if (between(s, 0.0, 1.0) < 0.3)
        return;
    struct sim_mains hum = {.frequency_hz = (s->n % 2 ? 50.0 : 60.0) + between(s, -0.05, 0.05), .orders = 20};
    double level = amplitude(s, -110.0, -80.0);
    for (int k = 1; k <= 20; k++)
        hum.level[k] = level * amplitude(s, -6.0, 6.0) / k;
    sim_add_mains(s->x, s->n, s->rate_hz, &hum);
}

static void add_hum(struct scene *s, double level, int step)
{
    struct sim_mains hum = {.frequency_hz = (s->n % 2 ? 50.0 : 60.0) + between(s, -0.05, 0.05), .orders = 20};
    double square = 0.0;
    for (int k = step; k <= 20; k += step) {
        hum.level[k] = amplitude(s, -4.0, 4.0) * pow(k, -1.0);
        hum.phase_rad[k] = between(s, -M_PI, M_PI);
        square += hum.level[k] * hum.level[k];
    }
    for (int k = 1; k <= 20; k++)
        hum.level[k] *= level / sqrt(square);
    sim_add_mains(s->x, s->n, s->rate_hz, &hum);
}

static void add_sine(struct scene *s, double frequency_hz, double peak)
{
    struct sim_tone tone = {
        .frequency_hz = frequency_hz, .level = peak / M_SQRT2, .phase_rad = between(s, -M_PI, M_PI), .orders = 3};
    tone.relative[2] = amplitude(s, -110.0, -60.0);
    tone.relative[3] = amplitude(s, -110.0, -60.0);
    sim_add_tone(s->x, s->n, s->rate_hz, &tone);
}

/* Multiplies by a gain over time. */
static void shape(struct scene *s, double (*gain)(double t, const double *number), const double *number)
{
    for (size_t i = 0; i < s->n; i++)
        s->x[i] *= gain((double)i / s->rate_hz, number);
}

/* ---- one tone ---- */

static void make_sine(struct scene *s)
{
    add_sine(s, log_between(s, 20.0, 18e3), amplitude(s, -35.0, -1.0));
}

static void make_on_mains(struct scene *s)
{
    static const double hz[] = {50.0, 60.0, 100.0, 120.0, 150.0, 180.0, 200.0};
    add_sine(s, hz[(size_t)between(s, 0.0, 6.99)], amplitude(s, -8.0, -1.0));
}

static void make_clipped(struct scene *s)
{
    double peak = amplitude(s, -20.0, -1.0);
    add_sine(s, log_between(s, 310.0, 6e3), peak); /* below, where hum is, one that clips may be hum */
    sim_clip(s->x, s->n, peak * between(s, 0.1, 0.9));
}

static void make_with_hum(struct scene *s)
{
    double peak = amplitude(s, -25.0, -1.0);
    add_sine(s, log_between(s, 70.0, 18e3), peak);
    add_hum(s, 0.7 * peak * amplitude(s, -40.0, -8.0), 1);
}

static void make_with_sidebands(struct scene *s)
{
    double peak = amplitude(s, -30.0, -1.0), f = log_between(s, 300.0, 15e3), off = between(s, 20.0, 0.4 * f);
    add_sine(s, f, peak);
    add_sine(s, f + off, 0.03 * peak);
    add_sine(s, f - off, 0.03 * peak * between(s, 0.7, 1.3));
}

static double modulate(double t, const double *number)
{
    return (1.0 + number[0] * sin(2.0 * M_PI * number[1] * t + number[2])) / (1.0 + number[0]);
}

static void make_modulated(struct scene *s)
{
    make_sine(s);
    const double number[] = {between(s, 0.02, 1.0), log_between(s, 0.3, 100.0), between(s, -3.0, 3.0)};
    shape(s, modulate, number);
}

/* Deviation up to 1 % of the tone, with an index that may make the middle line weaker than its neighbours. */
static void make_fluttering(struct scene *s)
{
    double frequency_hz = log_between(s, 300.0, 10e3), rate_hz = log_between(s, 2.0, 20.0);
    double deviation_hz = frequency_hz * log_between(s, 1e-4, 1e-2), phase_rad = between(s, -M_PI, M_PI);
    double peak = amplitude(s, -20.0, -1.0);
    for (size_t i = 0; i < s->n; i++) {
        double t = (double)i / s->rate_hz;
        s->x[i] += peak * cos(2.0 * M_PI * frequency_hz * t + phase_rad +
                              deviation_hz / rate_hz * sin(2.0 * M_PI * rate_hz * t));
    }
}

static void make_noisy(struct scene *s)
{
    double peak = amplitude(s, -30.0, -8.0);
    add_sine(s, log_between(s, 20.0, 18e3), peak);
    double noise = 0.7 * peak * amplitude(s, -20.0, -5.0);
    sim_add_white(s->x, s->n, s->rate_hz, noise / sqrt(0.5 * s->rate_hz), &s->random);
}

static double drift(double t, const double *number)
{
    return pow(10.0, number[0] * t / 20.0);
}

static void make_drifting(struct scene *s)
{
    make_sine(s);
    const double number[] = {between(s, -1.0, 0.0)};
    shape(s, drift, number);
}

static double gate(double t, const double *number)
{
    return t >= number[0] && t < number[1] ? 1.0 : 0.0;
}

static void make_late(struct scene *s)
{
    make_sine(s);
    const double number[] = {between(s, 0.15, 0.35) * s->seconds, s->seconds * between(s, 0.65, 1.2)};
    shape(s, gate, number);
}

static double drop(double t, const double *number)
{
    return t >= number[0] && t < number[1] ? 0.0 : 1.0;
}

static void make_dropout(struct scene *s)
{
    make_sine(s);
    double at = between(s, 0.1, 0.8) * s->seconds;
    const double number[] = {at, at + between(s, 1e-3, 0.03)};
    shape(s, drop, number);
}

/* ---- two tones ---- */

static void add_two(struct scene *s, double f1, double f2, double ratio)
{
    double peak = amplitude(s, -30.0, -2.0);
    double c[] = {0.0, 1.0, amplitude(s, -90.0, -45.0) / peak, amplitude(s, -90.0, -45.0) / peak / peak};
    add_sine(s, f1, peak * ratio / (1.0 + ratio));
    add_sine(s, f2, peak / (1.0 + ratio));
    sim_polynomial(s->x, s->n, c, 4);
}

static void make_modulation(struct scene *s)
{
    if (s->n % 2)
        add_two(s, 60.0, 7000.0, 4.0);
    else
        add_two(s, 250.0, 8020.0, 4.0);
}

static void make_difference(struct scene *s)
{
    if (s->n % 2)
        add_two(s, 19e3, 20e3, 1.0);
    else
        add_two(s, 1000.0, 1100.0, 1.0);
}

static void make_any_two(struct scene *s)
{
    double f1, f2, order;
    do {
        f1 = log_between(s, 400.0, 18e3);
        f2 = f1 * between(s, 1.05, 7.5);
        order = round(f2 / f1);
    } while (f2 > 19e3 || fabs(f2 / f1 - order) < 0.02);
    bool first = between(s, 0.0, 1.0) < 0.5;
    add_two(s, first ? f1 : f2, first ? f2 : f1, log_between(s, 1.0, 9.0));
}

/* ---- moving ---- */

static void add_sweep(struct scene *s, double from_hz, double to_hz, bool linear, int repeats)
{
    double lead = between(s, 0.0, 0.3), length = s->seconds - lead - between(s, 0.0, 0.3), one = length / repeats;
    double peak = amplitude(s, -30.0, -1.0), rate = log(to_hz / from_hz);
    for (size_t i = 0; i < s->n; i++) {
        double t = (double)i / s->rate_hz - lead, u = fmod(t, one);
        if (t < 0.0 || t >= length)
            continue;
        double turns = linear ? from_hz * u + (to_hz - from_hz) * u * u / (2.0 * one)
                              : from_hz * one / rate * (exp(u / one * rate) - 1.0);
        s->x[i] += peak * sin(2.0 * M_PI * turns);
    }
}

static void make_sweep(struct scene *s)
{
    double low = log_between(s, 10.0, 100.0), high = log_between(s, 5e3, 20e3);
    bool down = between(s, 0.0, 1.0) < 0.3;
    add_sweep(s, down ? high : low, down ? low : high, between(s, 0.0, 1.0) < 0.4, 1);
}

static void make_repeated_sweep(struct scene *s)
{
    add_sweep(s, log_between(s, 10.0, 100.0), log_between(s, 5e3, 20e3), false, 2);
}

static double steps(double t, const double *number)
{
    double n = floor(t / number[0]), top = number[2];
    n = n > top ? 2.0 * top - n : n; /* and back */
    return n < 0.0 ? 0.0 : pow(10.0, (number[1] * (n - top) - 1.0) / 20.0);
}

static void make_staircase(struct scene *s)
{
    double step_db = between(s, 1.0, 10.0), count = floor(between(s, 3.0, 7.0));
    bool back = between(s, 0.0, 1.0) < 0.4;
    add_sine(s, log_between(s, 300.0, 15e3), 1.0);
    const double number[] = {s->seconds / (back ? 2.0 * count - 1.0 : count), step_db, count - 1.0};
    shape(s, steps, number);
}

static double burst(double t, const double *number)
{
    return fmod(t, number[0]) < number[1] ? 1.0 : number[2];
}

static void make_bursts(struct scene *s)
{
    double on = between(s, 0.05, 0.3), off = between(s, 0.05, 0.3);
    add_sine(s, log_between(s, 300.0, 15e3), amplitude(s, -25.0, -1.0));
    const double number[] = {on + off, on, between(s, 0.0, 1.0) < 0.5 ? 0.0 : 0.1};
    shape(s, burst, number);
}

static void make_short_bursts(struct scene *s)
{
    double on = between(s, 0.005, 0.03);
    add_sine(s, log_between(s, 500.0, 15e3), amplitude(s, -25.0, -1.0));
    const double number[] = {on + between(s, 0.15, 0.4), on, 0.0};
    shape(s, burst, number);
}

/* ---- broad ---- */

static double pink(double frequency_hz, const void *context)
{
    (void)context;
    return 1.0 / fmax(1.0, frequency_hz);
}

static void make_noise(struct scene *s)
{
    double rms = amplitude(s, -30.0, -14.0);
    if (between(s, 0.0, 1.0) < 0.5) {
        sim_add_white(s->x, s->n, s->rate_hz, rms / sqrt(0.5 * s->rate_hz), &s->random);
        return;
    }
    struct sim_colour *colour = sim_colour_new(s->n, s->rate_hz, pink, NULL);
    assert_non_null(colour);
    sim_colour_add(colour, s->x, &s->random);
    sim_colour_free(colour);
    for (size_t i = 0; i < s->n; i++)
        s->x[i] *= rms / 3.0;
}

/* Notes of harmonics that come and go, one to three at once. */
static void make_music(struct scene *s)
{
    double peak = amplitude(s, -20.0, -10.0);
    for (double at = 0.0; at < s->seconds; at += between(s, 0.08, 0.3))
        for (int voice = 0; voice < 1 + (int)between(s, 0.0, 2.99); voice++) {
            double f = 55.0 * pow(2.0, floor(between(s, 0.0, 48.0)) / 12.0), decay = between(s, 0.05, 0.4);
            for (size_t i = (size_t)(at * s->rate_hz); i < s->n && i < (size_t)((at + 1.0) * s->rate_hz); i++) {
                double t = (double)i / s->rate_hz - at;
                double wave = sin(2.0 * M_PI * f * t) + 0.5 * sin(4.0 * M_PI * f * t) + 0.3 * sin(6.0 * M_PI * f * t);
                s->x[i] += 0.3 * peak * exp(-t / decay) * (1.0 - exp(-t / 0.005)) * wave;
            }
        }
}

static void make_many_tones(struct scene *s)
{
    int count = 5 + (int)between(s, 0.0, 20.0);
    for (int i = 0; i < count; i++)
        add_sine(s, log_between(s, 30.0, 18e3), 0.8 / count);
}

/* ---- nothing ---- */

static void make_idle(struct scene *s)
{
    (void)s;
}

static void make_hum(struct scene *s)
{
    add_hum(s, amplitude(s, -80.0, -26.0), 1);
}

static void make_ripple(struct scene *s)
{
    add_hum(s, amplitude(s, -80.0, -26.0), 2);
}

static void make_spurs(struct scene *s)
{
    for (int i = 0; i < 3; i++)
        add_sine(s, log_between(s, 1e3, 20e3), amplitude(s, -120.0, -85.0));
}

static void make_hiss(struct scene *s)
{
    sim_add_white(s->x, s->n, s->rate_hz, amplitude(s, -70.0, -45.0) / sqrt(0.5 * s->rate_hz), &s->random);
    for (int i = 0; i < 4; i++)
        s->x[(size_t)between(s, 0.0, (double)s->n - 1.0)] += between(s, -0.1, 0.1);
}

static const struct {
    const char *name;
    enum lds_signal_kind kind;
    void (*make)(struct scene *scene);
    double shortest_s, longest_s;
} kinds[] = {
    {"sine", LDS_SIGNAL_SINE, make_sine, 0.5, 2.0},
    {"sine on a mains order", LDS_SIGNAL_SINE, make_on_mains, 1.0, 2.0},
    {"clipped sine", LDS_SIGNAL_SINE, make_clipped, 0.5, 2.0},
    {"sine with hum", LDS_SIGNAL_SINE, make_with_hum, 1.0, 2.0},
    {"sine with sidebands", LDS_SIGNAL_SINE, make_with_sidebands, 1.0, 2.0},
    {"modulated sine", LDS_SIGNAL_SINE, make_modulated, 1.5, 3.0},
    {"fluttering sine", LDS_SIGNAL_SINE, make_fluttering, 2.0, 4.0},
    {"noisy sine", LDS_SIGNAL_SINE, make_noisy, 0.5, 2.0},
    {"drifting sine", LDS_SIGNAL_SINE, make_drifting, 1.0, 3.0},
    {"sine in part", LDS_SIGNAL_SINE, make_late, 1.0, 2.0},
    {"sine with a dropout", LDS_SIGNAL_SINE, make_dropout, 1.0, 2.0},
    {"60 Hz and 7 kHz", LDS_SIGNAL_TWO_TONE, make_modulation, 1.0, 2.0},
    {"19 and 20 kHz", LDS_SIGNAL_TWO_TONE, make_difference, 1.0, 2.0},
    {"any two tones", LDS_SIGNAL_TWO_TONE, make_any_two, 1.0, 2.0},
    {"sweep", LDS_SIGNAL_SWEEP, make_sweep, 1.5, 3.0},
    {"sweep again and again", LDS_SIGNAL_SWEEP, make_repeated_sweep, 2.5, 3.0},
    {"staircase", LDS_SIGNAL_STAIRCASE, make_staircase, 2.0, 3.0},
    {"bursts", LDS_SIGNAL_BURST, make_bursts, 2.0, 3.0},
    {"short bursts", LDS_SIGNAL_BURST, make_short_bursts, 2.0, 3.0},
    {"noise", LDS_SIGNAL_NOISE, make_noise, 1.0, 2.0},
    {"music", LDS_SIGNAL_PROGRAMME, make_music, 3.0, 4.0},
    {"many tones", LDS_SIGNAL_PROGRAMME, make_many_tones, 1.0, 2.0},
    {"idle", LDS_SIGNAL_SILENCE, make_idle, 0.5, 2.0},
    {"hum", LDS_SIGNAL_SILENCE, make_hum, 1.0, 2.0},
    {"ripple", LDS_SIGNAL_SILENCE, make_ripple, 1.0, 2.0},
    {"spurs", LDS_SIGNAL_SILENCE, make_spurs, 0.5, 2.0},
    {"hiss and clicks", LDS_SIGNAL_SILENCE, make_hiss, 0.5, 2.0},
};

static size_t rows(const struct lds_channel *channel, const char *key)
{
    const struct lds_series *series = lds_channel_series(channel, key);
    return series ? series->rows : 0;
}

/* What goes with the kind: no figures of one tone, or of noise, where there is none. */
static void check_figures(const struct lds_measurement *m, const char *name, uint64_t seed)
{
    const struct lds_channel *channel = &m->channel[0];
    bool one_tone = channel->signal.kind == LDS_SIGNAL_SINE, part = strstr(channel->signal.words, "silence around");
    bool steady = lds_signal_is_steady(channel->signal.kind) && !part;
    if (part && !(lds_channel_figure(channel, "tone.level")->flags & LDS_FLAG_DRIFTING))
        fail_msg("%s, seed %d: a tone in part of the capture is not marked", name, (int)seed);
    bool good = (!lds_channel_figure(channel, "thd_n")) == !one_tone && steady == (rows(channel, "floor") > 0) &&
                (steady || (!lds_channel_figure(channel, "noise.a") && !lds_channel_figure(channel, "mains.total") &&
                            rows(channel, "spurs") == 0 && rows(channel, "mains") == 0));
    if (steady || channel->signal.kind == LDS_SIGNAL_TWO_TONE)
        good = good && (one_tone || rows(channel, "harmonics") == 0);
    const char *why = lds_channel_absent(channel, "thd_n");
    if (!one_tone && channel->signal.words[0])
        good = good && why && strncmp(why, channel->signal.words, strlen(channel->signal.words)) == 0;
    if (!good)
        fail_msg("%s, seed %d: figures that do not go with \"%s\"", name, (int)seed, channel->signal.words);
}

static void test_kinds(void **state)
{
    (void)state;
    int misses = 0;
    for (size_t k = 0; k < sizeof kinds / sizeof kinds[0]; k++)
        for (int run = 0; run < runs; run++) {
            struct scene s;
            uint64_t seed = 1000 * k + (uint64_t)run + 1;
            struct lds_measurement m;
            begin(&s, seed, kinds[k].shortest_s, kinds[k].longest_s);
            kinds[k].make(&s);
            add_amplifier(&s);
            sim_measure(s.x, s.n, s.rate_hz, NULL, &m);
            if (m.signal.kind != kinds[k].kind)
                print_error("%s, seed %d, was taken for %s: %s\n", kinds[k].name, (int)seed,
                            lds_signal_name(m.signal.kind), m.signal.words);
            else
                check_figures(&m, kinds[k].name, seed);
            misses += m.signal.kind != kinds[k].kind;
            lds_measurement_free(&m);
            free(s.x);
        }
    assert_int_equal(misses, 0);
}

/* Hum, a tone, or either: a line on a mains order is judged by its company and its level at the load, whatever the full
 * scale. */
enum reading { HUM, TONE, EITHER };
static const struct {
    double mains_hz, level_v, order_db[6]; /* order 1 to 5 re level_v; 0 at [0]: absent */
    enum reading reading;
} lines[] = {
    {50.0, 3e-3, {0, -200, 0, -200, -11, -200}, HUM},    /* no amplifier distorts 3 mV this much */
    {50.0, 3e-3, {0, -200, 0, -200, -23, -200}, EITHER}, /* too little to decide */
    {50.013, 3e-3, {0, -200, 0, -200, -10, -200}, HUM},  /* not at 100.00 Hz: the mains */
    {50.0, 3e-3, {0, -14, 0, -20, -10, -20}, HUM},       /* orders that are no harmonics */
    {59.97, 20e-3, {0, -3, 0, -6, -10, -12}, HUM},
    {50.0, 20e-3, {0, 0, -5, -3, -12, -14}, HUM},         /* a rich comb, exactly at 50 Hz */
    {50.0, 3e-3, {0, -200, 0, -200, -200, -200}, EITHER}, /* 100.0 Hz alone */
    {50.02, 3e-3, {0, -200, 0, -200, -200, -200}, EITHER},
    {60.0, 5e-3, {0, 0, -200, -200, -200, -200}, EITHER},
    {50.0, 8.9, {0, 0, -80, -85, -90, -95}, TONE}, /* driven hard */
    {60.0, 8.9, {0, 0, -80, -85, -90, -95}, TONE},
    {50.0, 8.9, {0, -200, 0, -200, -80, -200}, TONE},
    {50.0, 8.9, {0, -200, -200, 0, -200, -200}, TONE},
    {50.0, 8.9, {0, 0, -200, -12, -200, -18}, EITHER}, /* clipped, or very bad hum */
};

static void check_line(const struct lds_measurement *m, size_t i, double level_v, double total_v)
{
    const struct lds_channel *channel = &m->channel[0];
    const struct lds_figure *tone = sim_figure(m, "tone.level"), *total = sim_figure(m, "mains.total");
    bool good = true;
    if (lines[i].reading == HUM)
        good = !tone && total && total->low <= total_v * 1.001 && total->high >= total_v * 0.999 &&
               fabs(total->value / total_v - 1.0) < 0.01 && channel->signal.kind == LDS_SIGNAL_SILENCE;
    else
        good = tone && tone->low <= level_v * 1.001 && tone->high >= level_v * 0.999 &&
               fabs(tone->value / level_v - 1.0) < 1e-3 && channel->signal.kind == LDS_SIGNAL_SINE;
    if (good && lines[i].reading == EITHER)
        good = strstr(channel->signal.words, "or hum") && (tone->flags & LDS_FLAG_NEAR_LINE) &&
               (lds_channel_series(channel, "harmonics")->flag[0] & LDS_FLAG_NEAR_LINE) &&
               (!total || total->high >= total_v * 0.999) && (sim_figure(m, "thd_n")->flags & LDS_FLAG_NEAR_LINE);
    if (good && lines[i].reading == TONE)
        good = !channel->signal.words[0] && (!total || isnan(total->value) || total->low < 1e-3);
    if (!good)
        fail_msg("row %zu: \"%s\", tone %g V, mains up to %g V of %g V", i, channel->signal.words,
                 tone ? tone->value : NAN, total ? total->high : NAN, total_v);
}

static void test_hum_or_tone(void **state)
{
    (void)state;
    for (size_t i = 0; i < sizeof lines / sizeof lines[0]; i++)
        for (int range = 0; range < 2; range++) {
            struct scene s;
            struct lds_measure_options options;
            struct lds_measurement m;
            double full_scale_v = lines[i].level_v * (range ? 25.0 : 3.0), square = 0.0, strongest = 0.0;
            begin(&s, 100 + i, 3.0, 4.0);
            for (int k = 1; k <= 5; k++) {
                double level = lines[i].level_v * pow(10.0, lines[i].order_db[k] / 20.0);
                struct sim_tone tone = {.frequency_hz = k * lines[i].mains_hz,
                                        .level = level / full_scale_v,
                                        .phase_rad = between(&s, -M_PI, M_PI)};
                sim_add_tone(s.x, s.n, s.rate_hz, &tone);
                square += level * level;
                strongest = fmax(strongest, level);
            }
            sim_add_white(s.x, s.n, s.rate_hz, 1e-8, &s.random);
            sim_options_init(&options);
            options.bench.full_scale_v = full_scale_v;
            options.bench.clock_ppm = 100.0;
            sim_measure(s.x, s.n, s.rate_hz, &options, &m);
            check_line(&m, i, strongest, sqrt(square));
            lds_measurement_free(&m);
            if (lines[i].reading == EITHER) {
                options.tone_hz = 0.0;
                sim_measure(s.x, s.n, s.rate_hz, &options, &m);
                assert_true(fabs(sim_value(&m, "mains.total") / sqrt(square) - 1.0) < 0.01);
                assert_int_equal(m.signal.kind, LDS_SIGNAL_SILENCE);
                lds_measurement_free(&m);
            }
            free(s.x);
        }
}

/* A computed capture of hum and one line 130 dB down beside an order, without any noise. */
static void test_computed_hum(void **state)
{
    (void)state;
    for (uint64_t seed = 1; seed <= 8; seed++) {
        struct scene s;
        struct lds_measure_options options;
        struct lds_measurement m;
        double square = 0.0;
        begin(&s, seed, seed % 2 ? 2.0 : 3.0, seed % 2 ? 2.0 : 4.0);
        double mains_hz = (seed % 4 < 2 ? 50.0 : 60.0) + between(&s, -0.03, 0.03), peak = amplitude(&s, -60.0, -20.0);
        for (int k = 1; k <= 7; k++) {
            struct sim_tone order = {.frequency_hz = k * mains_hz,
                                     .level = peak / k * between(&s, 0.5, 1.5),
                                     .phase_rad = between(&s, -M_PI, M_PI)};
            sim_add_tone(s.x, s.n, s.rate_hz, &order);
            square += order.level * order.level;
        }
        struct sim_tone line = {.frequency_hz = 3.0 * mains_hz + between(&s, 1.0, 3.0), .level = peak * 3e-7};
        sim_add_tone(s.x, s.n, s.rate_hz, &line);
        sim_options_init(&options);
        options.bench.full_scale_v = 1.0;
        sim_measure(s.x, s.n, s.rate_hz, &options, &m);
        const struct lds_figure *total = sim_figure(&m, "mains.total");
        if (m.signal.kind != LDS_SIGNAL_SILENCE || !total || !(total->low <= sqrt(square)) ||
            !(total->high >= sqrt(square)) || !(fabs(total->value / sqrt(square) - 1.0) < 1e-4))
            fail_msg("seed %llu: \"%s\", %.12g (%.12g to %.12g) of %.12g V", (unsigned long long)seed, m.signal.words,
                     total ? total->value : NAN, total ? total->low : NAN, total ? total->high : NAN, sqrt(square));
        lds_measurement_free(&m);
        free(s.x);
    }
}

/* What the user states overrides what is recognised. */
static void test_stated(void **state)
{
    (void)state;
    struct scene s;
    struct lds_measure_options options;
    struct lds_measurement m;
    sim_options_init(&options);
    begin(&s, 1, 2.0, 2.0);
    make_difference(&s);
    add_amplifier(&s);
    options.tone_hz = 1000.0;
    sim_measure(s.x, s.n, s.rate_hz, &options, &m);
    assert_int_equal(m.signal.kind, LDS_SIGNAL_SINE);
    assert_false(m.signal.stated);
    assert_non_null(sim_figure(&m, "thd_n"));
    lds_measurement_free(&m);
    options.tone_hz = 0.0;
    sim_measure(s.x, s.n, s.rate_hz, &options, &m);
    assert_int_equal(m.signal.kind, LDS_SIGNAL_SILENCE);
    assert_non_null(sim_figure(&m, "noise.a"));
    lds_measurement_free(&m);
    free(s.x);
}

/* Every kind can be stated, whatever the capture shows: here two tones. */
static void test_stated_kinds(void **state)
{
    (void)state;
    struct scene s;
    struct lds_measure_options options;
    begin(&s, 2, 2.0, 2.0);
    struct sim_tone tones[] = {{.frequency_hz = 1100.0, .level = 0.1}, {.frequency_hz = 1900.0, .level = 0.05}};
    for (int i = 0; i < 2; i++)
        sim_add_tone(s.x, s.n, s.rate_hz, &tones[i]);
    add_amplifier(&s);
    for (int kind = LDS_SIGNAL_NONE + 1; kind < LDS_SIGNALS; kind++) {
        struct lds_measurement m;
        bool tone = kind == LDS_SIGNAL_SINE || kind == LDS_SIGNAL_TWO_TONE;
        bool still = tone || kind == LDS_SIGNAL_SILENCE;
        sim_options_init(&options);
        options.signal = (struct lds_stated_signal){(enum lds_signal_kind)kind, {1100.0, 1900.0}};
        sim_measure(s.x, s.n, s.rate_hz, &options, &m);
        assert_int_equal(m.signal.kind, kind);
        assert_true(m.signal.stated);
        if (kind != LDS_SIGNAL_SILENCE)
            assert_true(fabs(m.signal.frequency_hz[0] / 1100.0 - 1.0) < 1e-6);
        if (kind == LDS_SIGNAL_TWO_TONE || !still)
            assert_true(fabs(m.signal.frequency_hz[1] / 1900.0 - 1.0) < (kind == LDS_SIGNAL_TWO_TONE ? 1e-6 : 1e-15));
        assert_int_equal(sim_figure(&m, "thd_n") != NULL, kind == LDS_SIGNAL_SINE);
        assert_int_equal(sim_figure(&m, "tone.level") != NULL, tone);
        assert_int_equal(sim_figure(&m, "noise.a") != NULL, still);
        const char *why = lds_channel_absent(&m.channel[0], "thd_n"),
                   *phrase = lds_signal_phrase((enum lds_signal_kind)kind);
        if (!still)
            assert_true(strncmp(why, phrase, strlen(phrase)) == 0);
        lds_measurement_free(&m);
    }
    free(s.x);
}

int main(int argc, char **argv)
{
    runs = argc > 1 ? atoi(argv[1]) : runs;
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_kinds), cmocka_unit_test(test_stated),
                                       cmocka_unit_test(test_stated_kinds), cmocka_unit_test(test_hum_or_tone),
                                       cmocka_unit_test(test_computed_hum)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
