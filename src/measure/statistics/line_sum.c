#include "measure/statistics/line_sum.h"

#include <math.h>
#include <stdbool.h>

#include "measure/statistics/noncentral.h"
#include "measure/statistics/uncertainty.h"

static const double DETECTED = 0.01; /* probability that noise alone is as strong */

struct lds_line_level lds_line_sum(const struct lds_line_ratio *ratio, int count)
{
    double power = 0.0, variance = 0.0, raw = 0.0, dof = INFINITY;
    for (int i = 0; i < count; i++) {
        const double p = ratio[i].raw - ratio[i].noise, n = ratio[i].noise;
        raw += ratio[i].raw;
        power += p;
        variance += 2.0 * fmax(p, 0.0) * n + n * n;
        dof = fmin(dof, ratio[i].dof);
    }
    const double p = fmax(power, 0.0), m = count, widen = pow(lds_coverage(dof) / lds_coverage(INFINITY), 2.0);
    const double noise = (sqrt(p * p + m * variance) - p) / m * widen;
    double low = raw, high = raw;
    if (noise > 0.0)
        lds_noncentral_limits(p + m * noise, noise, count, &low, &high);
    const bool there =
        power > 0.0 && noise > 0.0 ? lds_noncentral_chance(p + m * noise, noise, count) < DETECTED : power > 0.0;
    return (struct lds_line_level){.value = there ? lds_power_db(power) : (double)NAN,
                                   .low = there && low > 0.0 ? lds_power_db(low) : (double)NAN,
                                   .high = lds_power_db(high),
                                   .u = there ? 10.0 / M_LN10 * sqrt(variance * widen) / power : (double)NAN,
                                   .dof = dof};
}
