#include "job/tone.h"

#include <math.h>
#include <string.h>

static const double SAME = 0.01;
static const double DRIVEN = 0.1; /* 20 dB below another channel: not driven; common practice, no source */

bool lds_same_tone(double one_hz, double other_hz)
{
    if (isnan(one_hz) || isnan(other_hz))
        return isnan(one_hz) && isnan(other_hz);
    return fabs(one_hz - other_hz) <= SAME * fmin(one_hz, other_hz) * (1.0 + 1e-9);
}

bool lds_tone_is_driven(const struct lds_tone *tone, size_t tones, size_t place)
{
    double highest = 0.0;
    for (size_t i = 0; i < tones; i++)
        highest = fmax(highest, tone[i].level);
    return !isnan(tone[place].frequency_hz) && tone[place].level >= DRIVEN * highest;
}

double lds_tone_of(const struct lds_tone *tone, size_t tones)
{
    for (size_t i = 0; i < tones; i++)
        if (lds_tone_is_driven(tone, tones, i))
            return tone[i].frequency_hz;
    return NAN;
}

double lds_tone_level(const struct lds_figure *level)
{
    return strcmp(level->unit, "V") == 0 ? level->value : pow(10.0, level->value / 20.0);
}

size_t lds_tones_measured(const struct lds_measurement *measurement, struct lds_tone *tone)
{
    size_t tones = 0;
    for (size_t i = 0; i < measurement->channels && tones < LDS_CHANNELS_MAX; i++) {
        const struct lds_channel *channel = &measurement->channel[i];
        const struct lds_figure *frequency = lds_channel_find(channel, LDS_FIGURE_TONE_FREQUENCY);
        const struct lds_figure *level = lds_channel_find(channel, LDS_FIGURE_TONE_LEVEL);
        if (!frequency || !level)
            continue;
        tone[tones++] = (struct lds_tone){
            .channel = channel->channel, .frequency_hz = frequency->value, .level = lds_tone_level(level)};
    }
    return tones;
}

double lds_tone_of_capture(const struct lds_sheet_capture *capture, const struct lds_measurement *measurement)
{
    struct lds_tone tone[LDS_CHANNELS_MAX];
    if (!capture->role->tone)
        return NAN;
    if (!isnan(capture->frequency_hz))
        return capture->frequency_hz;
    return lds_tone_of(tone, lds_tones_measured(measurement, tone));
}

double lds_load_of_capture(const struct lds_measurement *measurement)
{
    int channel = measurement->channels > 0 ? measurement->channel[0].channel : 0;
    double highest_w = 0.0;
    for (size_t i = 0; i < measurement->channels; i++) {
        const struct lds_figure *power = lds_channel_find(&measurement->channel[i], LDS_FIGURE_TONE_POWER);
        if (power && power->value > highest_w) {
            highest_w = power->value;
            channel = measurement->channel[i].channel;
        }
    }
    return lds_bench_of(&measurement->bench, channel)->load_ohm;
}

bool lds_is_driven(const struct lds_measurement *measurement, int channel)
{
    struct lds_tone tone[LDS_CHANNELS_MAX];
    size_t tones = lds_tones_measured(measurement, tone);
    for (size_t i = 0; i < measurement->channels; i++) /* no figure gives the level of a staircase */
        if (measurement->channel[i].channel == channel && measurement->channel[i].signal.kind == LDS_SIGNAL_STAIRCASE)
            return true;
    for (size_t i = 0; i < tones; i++)
        if (tone[i].channel == channel)
            return lds_tone_is_driven(tone, tones, i);
    return false;
}
