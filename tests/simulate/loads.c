#include "simulate/loads.h"

#include <math.h>
#include <stdbool.h>

size_t sim_loads_frames(const struct sim_loads *loads, double rate_hz)
{
    size_t frames = 0;
    for (size_t i = 0; i < loads->stretches; i++)
        frames += (size_t)llround(loads->seconds[i] * rate_hz);
    return frames;
}

void sim_add_loads(double *x, double rate_hz, const struct sim_loads *loads, struct sim_random *random)
{
    const double all = (double)sim_loads_frames(loads, rate_hz), turn = 2.0 * M_PI * loads->frequency_hz / rate_hz;
    size_t at = 0;
    for (size_t i = 0; i < loads->stretches; i++) {
        const size_t frames = (size_t)llround(loads->seconds[i] * rate_hz);
        const double complex divided = 1.0 / (1.0 + loads->source_ohm / loads->ohm[i]); /* the voltage divider */
        for (size_t k = 0; k < frames; k++, at++) {
            const double drift = pow(10.0, loads->drift_db * (double)at / all / 20.0);
            const bool closed = i == 0 || (double)k >= loads->bounce_s * rate_hz || sim_random_uniform(random) < 0.5;
            const double phase = fmod(turn * (double)at, 2.0 * M_PI) + loads->phase_rad;
            if (closed)
                x[at] += M_SQRT2 * loads->level * drift * creal(divided * cexp(I * phase));
        }
    }
}
