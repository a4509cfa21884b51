#include "measure/pair/pair_scale.h"

#include <math.h>

#include "measure/statistics/uncertainty.h"

bool lds_pair_scale(const struct lds_pair *pair, const struct lds_findings *a, const struct lds_findings *b,
                    double frequency_hz, struct lds_pair_scale *scale)
{
    const struct lds_bench *whole = &a->options->bench;
    *scale = (struct lds_pair_scale){0};
    if (lds_bench_of(whole, pair->channels[0]) == lds_bench_of(whole, pair->channels[1]))
        return true;
    double of_a = a->scale / lds_bench_gain(a->bench, frequency_hz);
    double of_b = b->scale / lds_bench_gain(b->bench, frequency_hz);
    scale->db = 20.0 * log10(of_b / of_a);
    scale->u_db = 20.0 / M_LN10 * hypot(lds_bench_level_u(a->bench), lds_bench_level_u(b->bench));
    return a->calibrated == b->calibrated;
}
