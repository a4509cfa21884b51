/* The full scale from a tone of known voltage. */
#include <math.h>
#include <stdio.h>

#include "constants.h"
#include "fail.h"
#include "loadside/calibrate.h"
#include "loadside/capture.h"

static const double WEAKEST_DBFS = -50.0; /* common practice, no source: below, hum and converter steps matter */
static const double MOST_DRIFT_DB = 0.1, UNDRIVEN_DB = 20.0;
static const double LEAST_V = 1e-3, MOST_V = 1e3; /* of full scale at an input */
static const double MAINS_HZ[] = {45.0, 65.0};

struct scale {
    int channel;
    double full_scale_v, u; /* u: relative */
};

static enum lds_status check_channel(const struct lds_channel *channel, const struct lds_figure *level,
                                     struct lds_error *error)
{
    const struct lds_figure *clipped = lds_channel_find(channel, LDS_FIGURE_CLIPPED);
    const struct lds_figure *gaps = lds_channel_find(channel, LDS_FIGURE_GAPS);
    const struct lds_figure *frequency = lds_channel_find(channel, LDS_FIGURE_TONE_FREQUENCY);
    const struct lds_figure *drift = lds_channel_find(channel, LDS_FIGURE_TONE_DRIFT);
    if ((clipped && clipped->value > 0.0) || lds_channel_problem(channel, LDS_PROBLEM_AMPLIFIER_CLIPS))
        return lds_fail(error, LDS_BAD_INPUT, "channel %d is clipped; a tone below full scale expected; play it softer",
                        channel->channel);
    if (gaps && gaps->value > 0.0)
        return lds_fail(error, LDS_BAD_INPUT, "channel %d has %.0f gaps; a tone without any expected; record it again",
                        channel->channel, gaps->value);
    if (frequency && frequency->value > MAINS_HZ[0] && frequency->value < MAINS_HZ[1])
        return lds_fail(error, LDS_BAD_INPUT,
                        "channel %d holds a tone of %.4g Hz, which may be mains hum; another frequency expected, such "
                        "as 997 Hz",
                        channel->channel, frequency->value);
    if (level->flags & LDS_FLAG_DRIFTING)
        return lds_fail(error, LDS_BAD_INPUT,
                        "the tone of channel %d is not there all the time, or moves; a steady one expected; state what "
                        "was played with --signal, or cut the recording to where it is steady",
                        channel->channel);
    if (drift && fabs(drift->value) > MOST_DRIFT_DB)
        return lds_fail(error, LDS_BAD_INPUT,
                        "the tone of channel %d changes by %.2g dB; a steady one expected; wait until everything is "
                        "warm, and record it again",
                        channel->channel, drift->value);
    if (level->value < WEAKEST_DBFS)
        return lds_fail(error, LDS_BAD_INPUT,
                        "the tone of channel %d is at %.3g dBFS; more than %.3g dBFS expected; play it louder",
                        channel->channel, level->value, WEAKEST_DBFS);
    return LDS_OK;
}

/* The channels that hold the tone: those within 20 dB of the highest. */
static enum lds_status take_scales(const struct lds_measurement *m, const struct lds_bench *bench, double volts,
                                   struct scale *scale, size_t *count, struct lds_error *error)
{
    double highest = -INFINITY;
    enum lds_status status = LDS_OK;
    for (size_t c = 0; c < m->channels; c++) {
        const struct lds_figure *level = lds_channel_find(&m->channel[c], LDS_FIGURE_TONE_LEVEL);
        highest = level ? fmax(highest, level->value) : highest;
    }
    for (size_t c = 0; !status && c < m->channels; c++) {
        const struct lds_channel *channel = &m->channel[c];
        const struct lds_figure *level = lds_channel_find(channel, LDS_FIGURE_TONE_LEVEL);
        if (!level || level->value < highest - UNDRIVEN_DB)
            continue;
        if (channel->signal.kind != LDS_SIGNAL_SINE)
            return lds_fail(error, LDS_BAD_INPUT, "channel %d holds %s; one steady tone expected; play a sine",
                            channel->channel,
                            channel->signal.words[0] ? channel->signal.words : lds_signal_phrase(channel->signal.kind));
        status = check_channel(channel, level, error);
        const double rms = pow(10.0, level->value / 20.0) * M_SQRT1_2; /* AES17: a full-scale sine is 0 dBFS */
        scale[(*count)++] =
            (struct scale){channel->channel, volts / lds_bench_of(bench, channel->channel)->attenuation / rms,
                           level->u_a * M_LN10 / 20.0};
    }
    if (!status && *count == 0) {
        const char *level_key = lds_key_row(LDS_FIGURE_TONE_LEVEL)->stem;
        const char *why = m->channels > 0 ? lds_channel_absent(&m->channel[0], level_key) : NULL;
        return lds_fail(error, LDS_BAD_INPUT,
                        "no tone of known voltage was found%s%s; one steady tone expected; play a sine",
                        why ? ": " : "", why ? why : "");
    }
    return status;
}

/* Limits +-a of what has the standard uncertainty u: a rectangular distribution (JCGM 100:2008, 4.3.7). */
static double limits_percent(double meter_percent, double u)
{
    const double meter = isnan(meter_percent) ? 0.0 : meter_percent / sqrt(3.0);
    return sqrt(3.0) * hypot(meter, 100.0 * u);
}

static void add(struct lds_calibration *calibration, const char *section, const struct scale *scale,
                double meter_percent)
{
    lds_calibration_add(calibration, section, "full_scale", "%.6g V", scale->full_scale_v);
    lds_calibration_add(calibration, section, "calibration_percent", "%.3g %%",
                        fmax(limits_percent(meter_percent, scale->u), 0.001));
}

enum lds_status lds_calibrate_volts(const struct lds_measurement *measurement, const struct lds_bench *bench,
                                    double volts, double meter_percent, struct lds_calibration *calibration,
                                    struct lds_error *error)
{
    struct scale scale[LDS_CHANNELS_MAX];
    size_t count = 0;
    bool alike = true;
    *calibration = (struct lds_calibration){.full_scale_v = NAN};
    enum lds_status status = take_scales(measurement, bench, volts, scale, &count, error);
    if (status)
        return status;
    for (size_t i = 0; i < count; i++) {
        const double v = scale[i].full_scale_v;
        if (!(v >= LEAST_V && v <= MOST_V))
            return lds_fail(error, LDS_BAD_INPUT,
                            "%.4g V would make the full scale of the input %.3g V; %g V to %g V expected; state the "
                            "rms volts at the load, and the divider with --attenuation",
                            volts, v, LEAST_V, MOST_V);
        alike = alike && fabs(v / scale[0].full_scale_v - 1.0) <= LDS_COVERAGE * hypot(scale[i].u, scale[0].u) + 1e-5;
    }
    calibration->full_scale_v = scale[0].full_scale_v;
    add(calibration, "bench", &scale[0], meter_percent);
    for (size_t i = 1; i < count && !alike; i++) {
        char section[24];
        snprintf(section, sizeof section, "channel %d", scale[i].channel);
        add(calibration, section, &scale[i], meter_percent);
    }
    return LDS_OK;
}
