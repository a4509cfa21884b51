#include "measure/tone/power_sum.h"

#include <math.h>

#include "measure/statistics/noncentral.h"

void lds_power_sum_add(struct lds_power_sum *sum, const struct lds_harmonic *line)
{
    double n = line->noise_power;
    double power = creal(line->phasor * conj(line->phasor)) - n;
    sum->components++;
    sum->power += power;
    sum->variance += 2.0 * fmax(0.0, power) * n + n * n;
}

void lds_power_sum_limits(const struct lds_power_sum *sum, double *low, double *high)
{
    double p = fmax(0.0, sum->power), m = sum->components;
    double even_noise = m > 0.0 ? (sqrt(p * p + m * sum->variance) - p) / m : 0.0; /* n */
    *low = *high = sum->power;
    if (even_noise > 0.0)
        lds_noncentral_limits(sum->power + m * even_noise, even_noise, sum->components, low, high);
}
