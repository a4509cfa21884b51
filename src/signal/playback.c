/* The voltages that a test signal makes, and whether they fit. */
#include <math.h>
#include <stdio.h>

#include "signal/noise.h"

/* The highest value, and the rms of the part that is played. False: no memory. */
static bool size_up(const struct lds_signal_spec *spec, double *peak, double *rms)
{
    const double first = pow(10.0, spec->level_dbfs / 20.0), ratio = spec->ratio;
    *peak = spec->kind == LDS_SIGNAL_SILENCE ? 0.0 : first;
    *rms = *peak * M_SQRT1_2;
    if (spec->kind == LDS_SIGNAL_STAIRCASE) {
        *peak = pow(10.0, fmax(spec->level_dbfs, spec->to_dbfs) / 20.0);
        *rms = *peak * M_SQRT1_2;
    } else if (spec->kind == LDS_SIGNAL_TWO_TONE) {
        *rms = *peak * M_SQRT1_2 * sqrt(1.0 + ratio * ratio) / (1.0 + ratio);
    } else if (spec->kind == LDS_SIGNAL_NOISE) {
        struct lds_noise noise;
        if (!lds_noise_make(spec, &noise))
            return false;
        *rms = first * noise.rms;
        *peak *= noise.peak;
        lds_noise_free(&noise);
    }
    return true;
}

bool lds_signal_playback(const struct lds_signal_spec *spec, const struct lds_bench *bench,
                         struct lds_playback *playback)
{
    const double volts = bench->play_full_scale_v * pow(10.0, bench->gain_db / 20.0);
    double peak, rms;
    if (!size_up(spec, &peak, &rms))
        return false;
    *playback = (struct lds_playback){.peak_v = peak * volts,
                                      .rms_v = rms * volts,
                                      .watts = rms * volts * rms * volts / bench->load_ohm,
                                      .takes_v = lds_bench_volts_per_unit(bench),
                                      .rail_v = fmax(fabs(bench->supply_v[0]), fabs(bench->supply_v[1])),
                                      .swing_v = fmin(fabs(bench->supply_v[0]), fabs(bench->supply_v[1]))};
    playback->input_v = playback->peak_v / bench->attenuation;
    playback->fits_input = !(playback->peak_v > playback->takes_v * (1.0 + 1e-9));
    playback->fits_supply = !(playback->peak_v > playback->swing_v * (1.0 + 1e-9));
    return true;
}

double lds_signal_level_for(double peak_v, const struct lds_bench *bench)
{
    return 20.0 * log10(peak_v / bench->play_full_scale_v) - bench->gain_db;
}
