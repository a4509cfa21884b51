#include "measure/pair/pair_scale.h"

#include <math.h>

#include "measure/statistics/uncertainty.h"

bool lds_pair_scale(const struct lds_bench *bench, const int channels[2], const bool calibrated[2], bool in_volts,
                    double frequency_hz, struct lds_pair_scale *scale)
{
    const struct lds_bench *of[] = {lds_bench_of(bench, channels[0]), lds_bench_of(bench, channels[1])};
    double volts[2];
    *scale = (struct lds_pair_scale){0};
    if (of[0] == of[1])
        return true;
    for (int i = 0; i < 2; i++)
        volts[i] =
            (calibrated[i] && !in_volts ? lds_bench_volts_per_unit(of[i]) : 1.0) / lds_bench_gain(of[i], frequency_hz);
    scale->db = 20.0 * log10(volts[1] / volts[0]);
    scale->u_db = 20.0 / M_LN10 * hypot(lds_bench_level_u(of[0]), lds_bench_level_u(of[1]));
    return calibrated[0] == calibrated[1];
}
