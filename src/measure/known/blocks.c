#include "measure/known/blocks.h"

#include <math.h>

enum {
    SAMPLES = 24 /* the most samples of a cycle that are used */,
    RUN = 16 /* samples from one exactly computed phase to the next */
};

static double log_ratio(const struct lds_signal_spec *spec)
{
    return log(spec->frequency_hz[1] / spec->frequency_hz[0]);
}

double lds_sweep_time(const struct lds_signal_spec *spec, double hz)
{
    return spec->seconds * log(hz / spec->frequency_hz[0]) / log_ratio(spec);
}

double lds_sweep_hz(const struct lds_signal_spec *spec, double t_s)
{
    return spec->frequency_hz[0] * exp(fmod(t_s, spec->seconds) * log_ratio(spec) / spec->seconds);
}

/* Turns of the sweep since it began (see lds_player_new). */
static double turns_at(const struct lds_signal_spec *spec, double t_s)
{
    return spec->frequency_hz[0] * spec->seconds / log_ratio(spec) * expm1(t_s * log_ratio(spec) / spec->seconds);
}

static double hz_at(const struct lds_signal_spec *spec, double t_s)
{
    return spec->frequency_hz[0] * exp(t_s * log_ratio(spec) / spec->seconds);
}

/* The reference oscillator, rotated from one sample to the next. Over so few samples its phase is a parabola. */
struct rotor {
    double cosine, sine, step_cosine, step_sine, bend_cosine, bend_sine;
};

/* turns: the phase at the first sample; step: turns from there to the next sample; growth: the share by which each step
 * is larger than the one before. */
static struct rotor rotor_from(double turns, double step, double growth)
{
    const double bend = step * growth, turn = 2.0 * M_PI;
    struct rotor r;
    sincos(turn * (turns - floor(turns)), &r.sine, &r.cosine);
    sincos(turn * (step + 0.5 * bend), &r.step_sine, &r.step_cosine);
    sincos(turn * bend, &r.bend_sine, &r.bend_cosine);
    return r;
}

static void turn_on(double *cosine, double *sine, double by_cosine, double by_sine)
{
    const double c = *cosine * by_cosine - *sine * by_sine;
    *sine = *cosine * by_sine + *sine * by_cosine;
    *cosine = c;
}

/* A raised cosine, rotated in the same way. */
struct window {
    double cosine, sine, step_cosine, step_sine;
};

static struct window window_from(double angle, double step)
{
    return (struct window){cos(angle), sin(angle), cos(step), sin(step)};
}

struct sums {
    double sine, cosine, weight, power;
};

static void add_run(struct sums *sums, struct rotor *r, struct window *window, const double *x, size_t stride, size_t n)
{
    for (size_t i = 0; i < n; i++) {
        const double w = 1.0 + window->cosine, wx = w * x[i * stride];
        sums->sine += wx * r->sine;
        sums->cosine += wx * r->cosine;
        sums->weight += w;
        sums->power += wx * x[i * stride];
        turn_on(&r->cosine, &r->sine, r->step_cosine, r->step_sine);
        turn_on(&r->step_cosine, &r->step_sine, r->bend_cosine, r->bend_sine);
        turn_on(&window->cosine, &window->sine, window->step_cosine, window->step_sine);
    }
}

struct lds_sweep_block lds_sweep_block_at(const struct lds_stretch *stretch, const struct lds_known *known, double t_s,
                                          double cycles, double least)
{
    const struct lds_signal_spec *spec = known->spec;
    const double second = lds_known_frames(known, stretch->rate_hz), hz = lds_sweep_hz(spec, t_s);
    const double length = fmax(cycles * stretch->rate_hz / hz, least);
    const double middle = known->begin - stretch->first + t_s * second, repeat_s = t_s - fmod(t_s, spec->seconds);
    const double from = ceil(middle - 0.5 * length), to = floor(middle + 0.5 * length);
    const double stride = fmax(1.0, floor(stretch->rate_hz / (SAMPLES * hz)));
    struct lds_sweep_block block = {.hz = hz, .t_s = t_s};
    const size_t count = (size_t)fmax(floor((to - from) / stride) + 1.0, 0.0);
    if (from < 0.0 || to >= (double)stretch->n)
        return block;
    const double dt_s = stride / second, growth = dt_s * log_ratio(spec) / spec->seconds;
    struct window window = window_from(2.0 * M_PI * (from - middle) / length, 2.0 * M_PI * stride / length);
    struct sums sums = {0};
    for (size_t done = 0; done < count; done += RUN) {
        const size_t n = count - done < RUN ? count - done : RUN;
        const double first = from + stride * (double)done;
        const double first_s = (first + stretch->first - known->begin) / second - repeat_s;
        struct rotor rotor = rotor_from(turns_at(spec, first_s), dt_s * hz_at(spec, first_s), growth);
        add_run(&sums, &rotor, &window, stretch->x + (size_t)first, (size_t)stride, n);
    }
    const double complex sum = sums.sine + I * sums.cosine;
    const double weight = sums.weight, power = sums.power;
    block.phasor = 2.0 * sum / weight;
    block.share = power > 0.0 ? fmin(2.0 * creal(sum * conj(sum)) / (weight * power), 1.0) : 0.0;
    return block;
}
