#include "saved/names.h"

#include <stddef.h>

#include "loadside/bench.h"

#define MEMBER(name, kind)                                                                                             \
    {                                                                                                                  \
#name, offsetof(struct lds_bench, name), kind, false                                                           \
    }
const struct lds_bench_member lds_bench_members[LDS_BENCH_MEMBERS] = {
    MEMBER(name, LDS_BENCH_TEXT),
    MEMBER(full_scale_v, LDS_BENCH_REAL),
    MEMBER(attenuation, LDS_BENCH_REAL),
    MEMBER(load_ohm, LDS_BENCH_REAL),
    MEMBER(dc_coupled, LDS_BENCH_YES),
    MEMBER(offset_v, LDS_BENCH_REAL),
    MEMBER(low_corner_hz, LDS_BENCH_REAL),
    MEMBER(usable_to_hz, LDS_BENCH_PLAIN),
    MEMBER(clock_ppm, LDS_BENCH_REAL),
    MEMBER(calibration_percent, LDS_BENCH_REAL),
    MEMBER(load_percent, LDS_BENCH_REAL),
    MEMBER(mains_hz, LDS_BENCH_PLAIN),
    MEMBER(repeat_level_db, LDS_BENCH_REAL),
    MEMBER(repeat_noise_db, LDS_BENCH_REAL),
    MEMBER(repeat_distortion_db, LDS_BENCH_REAL),
    MEMBER(repeat_mains_db, LDS_BENCH_REAL),
    {"repeat_dc_db", offsetof(struct lds_bench, repeat_dc_db), LDS_BENCH_REAL, true}};
#undef MEMBER
