/* What the capture chain alone records while nothing is played. */
#include <math.h>

#include "capture/reader.h"
#include "loadside/calibrate.h"

static const double BEFORE_S = 0.05, AFTER_S = 0.3; /* left out beside the signal, where it rises and settles */
static const double LEAST_S = 1.0; /* for a noise density within some 10 % around 1 kHz (common practice, no source) */

struct part {
    double from_s, to_s;
};

/* The longer one of what is before the signal and what is after it. */
static struct part silence_of(const struct lds_measurement *played, const struct lds_signal_spec *spec)
{
    const double begin_s = played->signal.delay_s;
    const double length_s = (double)lds_signal_proper(spec) / spec->rate_hz * (1.0 + 1e-6 * played->signal.clock_ppm);
    const struct part before = {0.0, begin_s - BEFORE_S}, after = {begin_s + length_s + AFTER_S, played->seconds};
    return after.to_s - after.from_s > before.to_s - before.from_s ? after : before;
}

enum lds_status lds_calibrate_silence(struct lds_capture *capture, const struct lds_measure_options *options,
                                      const struct lds_measurement *played, struct lds_measurement *silence,
                                      bool *there, struct lds_error *error)
{
    const struct part part = silence_of(played, &options->known);
    struct lds_measure_options idle = *options;
    *there = part.to_s - part.from_s >= LEAST_S; /* false if a time is NAN */
    if (!*there)
        return LDS_OK;
    idle.known = (struct lds_signal_spec){.kind = LDS_SIGNAL_NONE};
    idle.reference = 0;
    idle.tone_hz = 0.0;
    lds_capture_limit(capture, (int64_t)ceil(part.from_s * played->rate_hz),
                      (int64_t)floor((part.to_s - part.from_s) * played->rate_hz) - 1);
    const enum lds_status status = lds_measure(capture, &idle, silence, error);
    lds_capture_limit(capture, 0, 0);
    return status;
}
