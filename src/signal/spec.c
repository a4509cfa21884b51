/* The specification of a test signal: its defaults, its checks, what is chosen where nothing was stated, and its
 * length. */
#include <math.h>

#include "fail.h"
#include "ini_key.h"
#include "loadside/capture.h"
#include "loadside/signal.h"

static const double RATES_HZ[] = {8000.0, 768000.0};
static const double LONGEST_S = 86400.0;
static const double LOWEST_DBFS = -200.0;
static const double EDGE_S = 0.005; /* fade at an edge, where the signal allows it (common practice, no source) */
enum { PERIOD_LEAST = 256, PERIOD_MOST = 1 << 20, PERIODS = 6 };

void lds_signal_spec_init(struct lds_signal_spec *spec, enum lds_signal_kind kind)
{
    *spec = (struct lds_signal_spec){.kind = kind,
                                     .rate_hz = 48000,
                                     .bits = 24,
                                     .seconds = 10.0,
                                     .lead_s = 0.5,
                                     .tail_s = 0.5,
                                     .level_dbfs = -3.0,
                                     .channels = 1,
                                     .frequency_hz = {NAN, NAN},
                                     .ratio = 1.0,
                                     .repeats = 1,
                                     .to_dbfs = NAN,
                                     .step_db = NAN,
                                     .hold_s = NAN,
                                     .on_s = NAN,
                                     .off_s = NAN,
                                     .seed = 1};
    switch (kind) {
    case LDS_SIGNAL_SINE:
        spec->frequency_hz[0] = 997.0; /* AES17: not a submultiple of any common rate */
        break;
    case LDS_SIGNAL_TWO_TONE:
        /* 19 and 20 kHz are common practice, no source; neither these tones nor their products fall on orders of the
         * mains */
        spec->frequency_hz[0] = 19003.0;
        spec->frequency_hz[1] = 19997.0;
        break;
    case LDS_SIGNAL_SWEEP:
        spec->frequency_hz[0] = 5.0;
        spec->frequency_hz[1] = 20000.0;
        break;
    case LDS_SIGNAL_STAIRCASE:
        spec->frequency_hz[0] = 997.0;
        spec->level_dbfs = -40.0;
        spec->to_dbfs = -1.0;
        spec->step_db = 1.0;
        spec->hold_s = 1.0;
        break;
    case LDS_SIGNAL_BURST:
        spec->frequency_hz[0] = 997.0;
        spec->on_s = 0.02;
        spec->off_s = 0.48;
        break;
    default:
        break;
    }
}

/* ---- checks ---- */

void lds_signal_kinds_made(char *text, size_t size)
{
    const char *names[LDS_SIGNALS];
    size_t count = 0;
    for (int kind = 0; kind < LDS_SIGNALS; kind++)
        if (lds_signal_stated((enum lds_signal_kind)kind) == LDS_STATED_BY_FILE)
            names[count++] = lds_signal_name((enum lds_signal_kind)kind);
    lds_ini_list(names, count, text, size);
}

static bool is_made(enum lds_signal_kind kind)
{
    return (unsigned)kind < LDS_SIGNALS && lds_signal_stated(kind) == LDS_STATED_BY_FILE;
}

static enum lds_status check_form(const struct lds_signal_spec *spec, struct lds_error *error)
{
    char made[200];
    if (!is_made(spec->kind)) {
        lds_signal_kinds_made(made, sizeof made);
        return lds_fail(error, LDS_BAD_USE, "no such signal can be made; %s expected", made);
    }
    if (!(spec->rate_hz >= RATES_HZ[0] && spec->rate_hz <= RATES_HZ[1]))
        return lds_fail(error, LDS_BAD_USE, "a rate of %d Hz found; 8 kHz to 768 kHz expected", spec->rate_hz);
    if (spec->bits != 16 && spec->bits != 24 && spec->bits != 32)
        return lds_fail(error, LDS_BAD_USE, "%d bits found; 16, 24 or 32 (float) expected", spec->bits);
    if (spec->channels < 1 || spec->channels > LDS_CHANNELS_MAX)
        return lds_fail(error, LDS_BAD_USE, "%d channels found; 1 to %d expected", spec->channels, LDS_CHANNELS_MAX);
    if (spec->channel < 0 || spec->channel > spec->channels)
        return lds_fail(error, LDS_BAD_USE, "channel %d of %d is to be driven; one that exists expected", spec->channel,
                        spec->channels);
    return LDS_OK;
}

static enum lds_status check_times(const struct lds_signal_spec *spec, struct lds_error *error)
{
    double seconds = spec->seconds * spec->repeats;
    if (spec->kind == LDS_SIGNAL_STAIRCASE)
        seconds = spec->hold_s * lds_signal_steps(spec);
    if (!(spec->lead_s >= 0.0 && spec->lead_s <= LONGEST_S && spec->tail_s >= 0.0 && spec->tail_s <= LONGEST_S))
        return lds_fail(error, LDS_BAD_USE, "a lead of %.6g s and a tail of %.6g s found; 0 to %g s expected",
                        spec->lead_s, spec->tail_s, LONGEST_S);
    if (spec->repeats < 1 || (spec->repeats > 1 && spec->kind != LDS_SIGNAL_SWEEP))
        return lds_fail(error, LDS_BAD_USE,
                        "%d repeats found; 1 or more expected for a sweep, and 1 for any other signal", spec->repeats);
    if (!(spec->seconds * spec->rate_hz >= 64.0 && seconds <= LONGEST_S))
        return lds_fail(error, LDS_BAD_USE, "a signal of %.6g s found; 64 samples to %g s expected", seconds,
                        LONGEST_S);
    return LDS_OK;
}

static enum lds_status check_level(const struct lds_signal_spec *spec, double dbfs, struct lds_error *error)
{
    if (dbfs >= LOWEST_DBFS && dbfs <= 0.0)
        return LDS_OK;
    return lds_fail(error, LDS_BAD_USE, "a level of %.6g dBFS found; at most 0 dBFS, full scale, expected%s", dbfs,
                    spec->kind == LDS_SIGNAL_STAIRCASE ? " at every step" : "");
}

static enum lds_status check_frequency(const struct lds_signal_spec *spec, double hz, struct lds_error *error)
{
    const double most = 0.5 * spec->rate_hz;
    if (hz > 0.0 && hz < most)
        return LDS_OK;
    return lds_fail(error, LDS_BAD_USE,
                    "a frequency of %.6g Hz found; above 0 and below %.6g Hz, half the rate, "
                    "expected",
                    hz, most);
}

static enum lds_status check_shape(const struct lds_signal_spec *spec, struct lds_error *error)
{
    const bool one = spec->kind != LDS_SIGNAL_SILENCE && spec->kind != LDS_SIGNAL_NOISE;
    const bool two = spec->kind == LDS_SIGNAL_TWO_TONE || spec->kind == LDS_SIGNAL_SWEEP;
    if ((one && check_frequency(spec, spec->frequency_hz[0], error)) ||
        (two && check_frequency(spec, spec->frequency_hz[1], error)))
        return LDS_BAD_USE;
    if (spec->kind == LDS_SIGNAL_SWEEP && !(spec->frequency_hz[1] > 1.01 * spec->frequency_hz[0]))
        return lds_fail(error, LDS_BAD_USE, "a sweep from %.6g to %.6g Hz found; one that rises expected",
                        spec->frequency_hz[0], spec->frequency_hz[1]);
    if (spec->kind == LDS_SIGNAL_TWO_TONE && spec->frequency_hz[0] == spec->frequency_hz[1])
        return lds_fail(error, LDS_BAD_USE, "two tones of %.6g Hz found; two frequencies expected",
                        spec->frequency_hz[0]);
    if (spec->kind == LDS_SIGNAL_TWO_TONE && !(spec->ratio >= 0.01 && spec->ratio <= 100.0))
        return lds_fail(error, LDS_BAD_USE, "a ratio of %.6g found; 0.01 to 100, such as 4 or 1, expected",
                        spec->ratio);
    if (spec->kind == LDS_SIGNAL_STAIRCASE &&
        !(spec->step_db >= 0.01 && spec->hold_s * spec->rate_hz >= 64.0 && lds_signal_steps(spec) <= 10000))
        return lds_fail(error, LDS_BAD_USE,
                        "steps of %.6g dB, held for %.6g s, found; at least 0.01 dB and 64 samples, and at most 10000 "
                        "steps, expected",
                        spec->step_db, spec->hold_s);
    if (spec->kind == LDS_SIGNAL_BURST && !(spec->on_s * spec->rate_hz >= 16.0 && spec->off_s * spec->rate_hz >= 16.0))
        return lds_fail(error, LDS_BAD_USE,
                        "bursts of %.6g s with %.6g s between them found; at least 16 samples "
                        "each expected",
                        spec->on_s, spec->off_s);
    return LDS_OK;
}

static enum lds_status check_chosen(const struct lds_signal_spec *spec, struct lds_error *error)
{
    const int period = spec->period;
    if (!(spec->fade_in_s >= 0.0 && spec->fade_out_s >= 0.0 && spec->fade_in_s + spec->fade_out_s <= spec->seconds))
        return lds_fail(error, LDS_BAD_USE, "fades of %.6g and %.6g s found; within the signal's %.6g s expected",
                        spec->fade_in_s, spec->fade_out_s, spec->seconds);
    if (spec->kind == LDS_SIGNAL_NOISE && (period < PERIOD_LEAST || period > PERIOD_MOST || (period & (period - 1))))
        return lds_fail(error, LDS_BAD_USE, "a period of %d samples found; a power of two from %d to %d expected",
                        period, PERIOD_LEAST, PERIOD_MOST);
    return LDS_OK;
}

/* ---- what is chosen ---- */

/* The longest period of which six fit: the first lets the amplifier settle, the others show the scatter. */
static int period_for(double samples)
{
    int period = PERIOD_LEAST;
    while (2 * period <= samples / PERIODS && period < PERIOD_MOST)
        period *= 2;
    return period;
}

/* A sweep fades in within half a period of its first frequency, so that there is power from the beginning. */
static void choose(struct lds_signal_spec *spec)
{
    double edge_s = fmin(EDGE_S, 0.05 * spec->seconds);
    if (spec->kind == LDS_SIGNAL_STAIRCASE) {
        spec->seconds = spec->hold_s * lds_signal_steps(spec);
        edge_s = fmin(EDGE_S, 0.05 * spec->hold_s);
    } else if (spec->kind == LDS_SIGNAL_BURST) {
        edge_s = fmin(fmin(EDGE_S, 0.1 * spec->on_s), 0.1 * spec->off_s);
    }
    const bool sweep = spec->kind == LDS_SIGNAL_SWEEP;
    if (spec->fade_in_s == 0.0)
        spec->fade_in_s = sweep ? fmin(0.5 / spec->frequency_hz[0], 0.05 * spec->seconds) : edge_s;
    if (spec->fade_out_s == 0.0)
        spec->fade_out_s = sweep ? fmin(edge_s, 20.0 / spec->frequency_hz[1]) : edge_s;
    if (spec->kind == LDS_SIGNAL_NOISE && spec->period == 0)
        spec->period = period_for(spec->seconds * spec->rate_hz);
}

enum lds_status lds_signal_spec_check(struct lds_signal_spec *spec, struct lds_error *error)
{
    const bool steps = spec->kind == LDS_SIGNAL_STAIRCASE;
    if (check_form(spec, error) || check_level(spec, spec->level_dbfs, error) ||
        (steps && check_level(spec, spec->to_dbfs, error)) || check_shape(spec, error) || check_times(spec, error))
        return LDS_BAD_USE; /* no check returns any other error */
    choose(spec);
    return check_chosen(spec, error);
}

/* ---- how long it is ---- */

static int rising_steps(const struct lds_signal_spec *spec)
{
    return (int)fmin(floor(fabs(spec->to_dbfs - spec->level_dbfs) / spec->step_db + 1e-6), 1e6) + 1;
}

int lds_signal_steps(const struct lds_signal_spec *spec)
{
    const int steps = rising_steps(spec);
    return spec->and_back ? 2 * steps - 1 : steps;
}

double lds_signal_step_dbfs(const struct lds_signal_spec *spec, int step)
{
    const int last = rising_steps(spec) - 1, from_first = step > last ? 2 * last - step : step;
    return spec->level_dbfs + from_first * copysign(spec->step_db, spec->to_dbfs - spec->level_dbfs);
}

int64_t lds_signal_proper(const struct lds_signal_spec *spec)
{
    return (int64_t)llround(spec->seconds * spec->repeats * spec->rate_hz);
}

int64_t lds_signal_lead(const struct lds_signal_spec *spec)
{
    return (int64_t)llround(spec->lead_s * spec->rate_hz);
}

int64_t lds_signal_frames(const struct lds_signal_spec *spec)
{
    return (int64_t)llround((spec->lead_s + spec->seconds * spec->repeats + spec->tail_s) * spec->rate_hz);
}
