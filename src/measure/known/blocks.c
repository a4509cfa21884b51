#include "measure/known/blocks.h"

#include <math.h>

enum { SAMPLES = 24 }; /* of a cycle that are used, where there are more */

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
    double complex sum = 0.0;
    double weight = 0.0, power = 0.0;
    if (from < 0.0 || to >= (double)stretch->n)
        return block;
    for (double i = from; i <= to; i += stride) {
        const double w = 1.0 + cos(2.0 * M_PI * (i - middle) / length), x = stretch->x[(size_t)i];
        const double turns = turns_at(spec, (i + stretch->first - known->begin) / second - repeat_s);
        const double angle = 2.0 * M_PI * (turns - floor(turns));
        sum += w * x * (sin(angle) + I * cos(angle));
        weight += w;
        power += w * x * x;
    }
    block.phasor = 2.0 * sum / weight;
    block.share = power > 0.0 ? fmin(2.0 * creal(sum * conj(sum)) / (weight * power), 1.0) : 0.0;
    return block;
}
