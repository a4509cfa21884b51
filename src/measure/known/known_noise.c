#include "measure/known/known_noise.h"

#include <math.h>
#include <stdlib.h>

#include "constants.h"
#include "measure/known/periods.h"
#include "measure/known/response.h"

/* The number of whole periods before the fade at the end. */
static size_t whole_periods(const struct lds_signal_spec *spec)
{
    const double samples = (double)lds_signal_proper(spec) - spec->fade_out_s * spec->rate_hz;
    return (size_t)fmax(samples / spec->period, 0.0);
}

bool lds_known_noise(const struct lds_stretch *stretch, const struct lds_known *known, const struct lds_bench *bench,
                     struct lds_channel *channel)
{
    const struct lds_signal_spec *spec = known->spec;
    const size_t period = (size_t)spec->period, periods = whole_periods(spec);
    const double step = lds_known_frames(known, stretch->rate_hz) / spec->rate_hz;
    if (periods < 2)
        return lds_channel_add_absent(channel, "response.gain",
                                      "the noise holds %zu whole period%s; two or more are needed: make it longer",
                                      periods, periods == 1 ? "" : "s");
    double *reference = malloc(period * sizeof *reference);
    struct lds_player *player = lds_player_new(spec);
    struct lds_periods averaged = {0};
    bool memory = reference && player;
    if (memory) {
        lds_player_render(player, (int64_t)period, period, reference);
        const struct lds_periods_request request = {.x = stretch->x,
                                                    .n = stretch->n,
                                                    .begin = known->begin - stretch->first,
                                                    .step = step,
                                                    .reference = reference,
                                                    .period = period,
                                                    .periods = periods};
        memory = lds_periods_average(&request, &averaged);
    }
    if (memory) {
        const struct lds_transfer_bins bins = {.bin_hz = (double)spec->rate_hz / (double)period,
                                               .bins = averaged.bins,
                                               .in = averaged.in,
                                               .out = averaged.out,
                                               .noise = averaged.noise,
                                               .noise_dof = 2.0 * ((double)averaged.averages - 1.0),
                                               .averages = (double)averaged.averages};
        const double end_hz = LDS_USABLE_SHARE * fmin(stretch->rate_hz, spec->rate_hz);
        const struct lds_response response = {.bins = &bins,
                                              .low_hz = fmax(2.0 * bins.bin_hz, 5.0),
                                              .high_hz = fmin(end_hz, bench->usable_to_hz),
                                              .bench = bench,
                                              .in_volts = bench->play_full_scale_v,
                                              .inverted = known->inverted > 0,
                                              .phase = true,
                                              .coherence = true};
        memory = lds_response_figures(&response, channel);
    }
    lds_periods_free(&averaged);
    lds_player_free(player);
    free(reference);
    return memory;
}
