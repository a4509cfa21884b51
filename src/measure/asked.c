#include "measure/asked.h"

#include <math.h>
#include <string.h>

#include "constants.h"
#include "fail.h"
#include "measure/signal/look.h"
#include "spectrum/cascade.h"

static const double SHORTEST_S = 0.2;
static const double DEFAULT_SETTLE_V = 0.05; /* common practice, no source */

void lds_measure_options_init(struct lds_measure_options *options)
{
    memset(options, 0, sizeof *options);
    lds_bench_init(&options->bench);
    options->mains_hz = NAN;
    options->settle_band_v = DEFAULT_SETTLE_V;
    options->bias_ohm = NAN;
    options->tone_hz = NAN;
    options->signal = (struct lds_stated_signal){LDS_SIGNAL_NONE, {NAN, NAN}};
    lds_signal_spec_init(&options->known, LDS_SIGNAL_NONE);
}

/* Takes a pair that was asked for, the lower channel first. A pair that was asked for twice is taken once. */
static enum lds_status take_pair(struct lds_asked *asked, const int pair[2], struct lds_error *error)
{
    const int low = pair[0] < pair[1] ? pair[0] : pair[1], high = pair[0] + pair[1] - low;
    if (low < 1 || high > asked->info->channels || low == high)
        return lds_fail(error, LDS_BAD_USE,
                        "the pair %d-%d was asked for, but the capture holds %d channel%s: choose two of 1 to %d",
                        pair[0], pair[1], asked->info->channels, asked->info->channels == 1 ? "" : "s",
                        asked->info->channels);
    if (asked->options->channel > 0)
        return lds_fail(error, LDS_BAD_USE, "the pair %d-%d was asked for, but only channel %d: leave one of them out",
                        pair[0], pair[1], asked->options->channel);
    for (size_t i = 0; i < asked->pairs; i++)
        if (asked->pair[i][0] == (size_t)low - 1 && asked->pair[i][1] == (size_t)high - 1)
            return LDS_OK;
    asked->pair[asked->pairs][0] = (size_t)low - 1; /* all channels are measured, so the index is the number less one */
    asked->pair[asked->pairs++][1] = (size_t)high - 1;
    return LDS_OK;
}

static enum lds_status choose_pairs(struct lds_asked *asked, struct lds_error *error)
{
    enum lds_status status = LDS_OK;
    for (size_t i = 0; status == LDS_OK && i < asked->options->pairs; i++)
        status = take_pair(asked, asked->options->pair[i], error);
    if (asked->options->pairs == 0)
        for (; 2 * asked->pairs + 1 < asked->channels; asked->pairs++)
            for (size_t i = 0; i < 2; i++)
                asked->pair[asked->pairs][i] = 2 * asked->pairs + i;
    return status;
}

/* The bench of each channel. Samples that are volts need no full scale, and no channel is usable to a higher frequency
 * than the bench as a whole. */
static void choose_benches(struct lds_asked *asked)
{
    const struct lds_bench *whole = &asked->options->bench;
    for (size_t c = 0; c < asked->channels; c++) {
        asked->bench[c] = *lds_bench_of(whole, asked->channel[c] + 1);
        asked->bench[c].usable_to_hz = fmin(asked->bench[c].usable_to_hz, whole->usable_to_hz);
        if (asked->info->in_volts)
            asked->bench[c].full_scale_v = 1.0;
    }
}

/* tone_hz is short for a stated sine, or for silence. */
static struct lds_stated_signal stated_signal(const struct lds_measure_options *options)
{
    const struct lds_signal_spec *known = &options->known;
    if (known->kind != LDS_SIGNAL_NONE)
        return (struct lds_stated_signal){known->kind, {known->frequency_hz[0], known->frequency_hz[1]}};
    if (options->signal.kind != LDS_SIGNAL_NONE || isnan(options->tone_hz))
        return options->signal;
    if (options->tone_hz == 0.0)
        return (struct lds_stated_signal){LDS_SIGNAL_SILENCE, {NAN, NAN}};
    return (struct lds_stated_signal){LDS_SIGNAL_SINE, {options->tone_hz, NAN}};
}

enum lds_status lds_asked_check(const struct lds_capture_info *info, const struct lds_measure_options *options,
                                struct lds_asked *asked, struct lds_error *error)
{
    *asked = (struct lds_asked){.info = info, .options = options, .stated = stated_signal(options)};
    double seconds = (double)info->frames / info->rate_hz;
    if (seconds < SHORTEST_S * (1.0 - 1e-9))
        return lds_fail(error, LDS_BAD_INPUT, "the capture holds %.3g s; figures need at least %g s: record longer",
                        seconds, SHORTEST_S);
    if (options->channel < 0 || options->channel > info->channels)
        return lds_fail(error, LDS_BAD_USE, "channel %d was asked for, but the capture holds %d: choose 1 to %d",
                        options->channel, info->channels, info->channels);
    if (options->reference < 0 || options->reference > info->channels || (options->reference > 0 && info->channels < 2))
        return lds_fail(
            error, LDS_BAD_USE,
            "channel %d was stated to hold the amplifier's input, but the capture holds %d channel%s: state "
            "one of two or more",
            options->reference, info->channels, info->channels == 1 ? "" : "s");
    if (!(options->settle_band_v > 0.0))
        return lds_fail(error, LDS_BAD_USE, "the settling band is +-%g V: state one above 0", options->settle_band_v);
    if (options->bias_ohm <= 0.0)
        return lds_fail(error, LDS_BAD_USE, "the resistance of the bias current is %g ohm: state one above 0",
                        options->bias_ohm);
    for (size_t i = 0; i < options->drivens; i++)
        if (options->driven[i] < 1 || options->driven[i] > info->channels)
            return lds_fail(error, LDS_BAD_USE,
                            "channel %d was stated to be driven, but the capture holds %d: state 1 to %d",
                            options->driven[i], info->channels, info->channels);
    for (size_t i = 0; i < options->bands; i++) {
        const struct lds_band *band = &options->band[i];
        if (!(band->low_hz > 0.0 && band->high_hz > band->low_hz))
            return lds_fail(error, LDS_BAD_USE, "the band %g-%g Hz is not valid: give LO-HI with 0 < LO < HI",
                            band->low_hz, band->high_hz);
    }
    for (int c = 0; c < info->channels; c++)
        if (options->channel == 0 || options->channel == c + 1)
            asked->channel[asked->channels++] = c;
    choose_benches(asked);
    return choose_pairs(asked, error);
}

bool lds_asked_has_tones(const struct lds_asked *asked)
{
    return lds_signal_has(asked->stated.kind, LDS_PLAYS_STILL | LDS_PLAYS_TONE);
}

/* A tone is searched and tracked on the audio level. */
static enum lds_status check_tone(const struct lds_asked *asked, double tone_hz, struct lds_error *error)
{
    double rate_hz = asked->info->rate_hz;
    if (isnan(tone_hz))
        return LDS_OK;
    int shift = lds_audio_shift(rate_hz);
    double look = fmin(LDS_LOOK_SAMPLES, ldexp((double)asked->info->frames, -shift));
    double least = lds_scout_lowest_hz((size_t)look, ldexp(rate_hz, -shift));
    double most = shift > 0 ? 0.4 * ldexp(rate_hz, -shift) : LDS_USABLE_SHARE * rate_hz;
    if (tone_hz >= least && tone_hz <= most)
        return LDS_OK;
    return lds_fail(error, LDS_BAD_USE,
                    "a tone of %.6g Hz was stated; %.3g s at %.6g Hz can hold one from %.3g to %.6g Hz: state the tone "
                    "that was played, or 0 when there is none",
                    tone_hz, (double)asked->info->frames / rate_hz, rate_hz, least, most);
}

enum lds_status lds_asked_check_tones(const struct lds_asked *asked, struct lds_error *error)
{
    const struct lds_stated_signal *stated = &asked->stated;
    enum lds_status status = lds_asked_has_tones(asked) ? check_tone(asked, stated->frequency_hz[0], error) : LDS_OK;
    if (status == LDS_OK && stated->kind == LDS_SIGNAL_TWO_TONE)
        status = check_tone(asked, stated->frequency_hz[1], error);
    return status;
}

double lds_measure_end_hz(double rate_hz, const struct lds_bench *bench)
{
    return fmin(LDS_USABLE_SHARE * rate_hz, bench->usable_to_hz);
}
