#include "measure/signal/look.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "fail.h"
#include "measure/each_channel.h"
#include "spectrum/cascade.h"
#include "spectrum/decimate.h"

struct look {
    struct lds_capture *capture;
    const struct lds_asked *asked;
    struct lds_error *error;
    double *x;  /* a short stretch of each channel, LDS_LOOK_SAMPLES each */
    size_t got; /* of them that were read */
    double rate_hz;
    struct lds_driven_look driven[LDS_CHANNELS_MAX];
    struct lds_look *found;
};

/* given_hz of struct lds_scout_request: no tone where the signal is stated and has none. */
static double given_hz(const struct lds_asked *asked)
{
    if (asked->stated.kind == LDS_SIGNAL_NONE)
        return NAN;
    return lds_asked_has_tones(asked) ? asked->stated.frequency_hz[0] : 0.0;
}

static bool look_at(const struct look *l, size_t index, double given, struct lds_scout *scout)
{
    const struct lds_scout_request request = {.rate_hz = l->rate_hz,
                                              .in_volts = l->asked->info->in_volts,
                                              .volts_per_unit = lds_bench_volts_per_unit(&l->asked->bench[index]),
                                              .given_hz = given};
    return lds_scout_look(l->x + index * LDS_LOOK_SAMPLES, l->got, &request, scout);
}

/* Reads the middle of the capture once and decimates every channel of it to the audio level's rate. */
static enum lds_status read_stretch(struct look *l, int shift)
{
    const struct lds_capture_info *info = l->asked->info;
    size_t channels = (size_t)info->channels, selected = l->asked->channels;
    int64_t wanted = (int64_t)((LDS_LOOK_SAMPLES + 256) << shift);
    if (wanted > info->frames)
        wanted = info->frames;
    enum lds_status status = lds_capture_seek(l->capture, (info->frames - wanted) / 2, l->error);
    struct lds_decimator *decimator[LDS_CHANNELS_MAX] = {0};
    double *block = malloc(LDS_CHUNK * channels * sizeof *block), *one = malloc(LDS_CHUNK * sizeof *one);
    bool memory = block && one;
    for (size_t c = 0; c < selected; c++) {
        decimator[c] = lds_decimator_new(shift, 0.4, LDS_CHUNK);
        memory = memory && decimator[c];
    }
    if (status == LDS_OK && !memory)
        status = lds_fail_memory(l->error, "the look for the tone");
    size_t filled[LDS_CHANNELS_MAX] = {0};
    while (status == LDS_OK && wanted > 0) {
        int64_t n = 0;
        status = lds_capture_read(l->capture, block, wanted < LDS_CHUNK ? wanted : LDS_CHUNK, &n, l->error);
        if (n == 0)
            break;
        wanted -= n;
        for (size_t c = 0; c < selected; c++) {
            for (int64_t i = 0; i < n; i++)
                one[i] = block[(size_t)i * channels + (size_t)l->asked->channel[c]];
            const double *out;
            size_t produced;
            lds_decimator_push(decimator[c], one, (size_t)n, &out, &produced);
            size_t room = LDS_LOOK_SAMPLES - filled[c];
            produced = produced < room ? produced : room;
            memcpy(l->x + c * LDS_LOOK_SAMPLES + filled[c], out, produced * sizeof *out);
            filled[c] += produced;
        }
    }
    for (size_t c = 0; c < selected; c++)
        lds_decimator_free(decimator[c]);
    free(block);
    free(one);
    l->got = filled[0];
    return status;
}

static bool run_look(void *context, size_t index)
{
    struct look *l = context;
    struct lds_scout *scout = &l->found->scout[index];
    if (!look_at(l, index, given_hz(l->asked), scout))
        return false;
    if (l->asked->stated.kind != LDS_SIGNAL_TWO_TONE || isnan(l->asked->stated.frequency_hz[1]) ||
        isnan(scout->tone_hz))
        return true;
    struct lds_scout second;
    if (!look_at(l, index, l->asked->stated.frequency_hz[1], &second))
        return false;
    scout->second_hz = isnan(second.tone_hz) ? l->asked->stated.frequency_hz[1] : second.tone_hz;
    scout->tones = 2;
    return true;
}

/* Looks again at a channel without a tone, near the strongest tone of another channel. */
static bool run_second_look(void *context, size_t index)
{
    struct look *l = context;
    const double *x = l->x + index * LDS_LOOK_SAMPLES;
    int strongest = lds_driven_strongest(l->driven, l->asked->channels);
    struct lds_driven_look *look = &l->driven[index];
    double square = 0.0;
    for (size_t i = 0; i < l->got; i++)
        square += x[i] * x[i] / (double)l->got;
    look->rms = sqrt(square);
    if (strongest < 0 || !isnan(look->scout->tone_hz) || given_hz(l->asked) == 0.0)
        return true;
    return look_at(l, index, l->found->scout[strongest].tone_hz, &look->at_strongest);
}

/* Which channels are driven; a single one has none to compare with. */
static bool find_driven(struct look *l)
{
    size_t count = l->asked->channels;
    for (size_t c = 0; c < count; c++)
        l->driven[c] = (struct lds_driven_look){
            .channel = l->asked->channel[c] + 1, .scout = &l->found->scout[c], .at_strongest = {.tone_hz = NAN}};
    if (count > 1 && !lds_each_channel(count, lds_threads(l->asked->options), run_second_look, l))
        return false;
    if (count > 1 || l->asked->options->drivens > 0)
        lds_driven_find(l->driven, count, l->asked->options->driven, l->asked->options->drivens,
                        l->rate_hz / (double)l->got, l->found->driven);
    return true;
}

enum lds_status lds_look_for_tones(struct lds_capture *capture, const struct lds_asked *asked, struct lds_look *look,
                                   struct lds_error *error)
{
    int shift = lds_audio_shift(asked->info->rate_hz);
    struct look l = {.capture = capture,
                     .asked = asked,
                     .error = error,
                     .x = malloc(asked->channels * LDS_LOOK_SAMPLES * sizeof *l.x),
                     .rate_hz = ldexp(asked->info->rate_hz, -shift),
                     .found = look};
    if (!l.x)
        return lds_fail_memory(error, "the look for the tone");
    enum lds_status status = read_stretch(&l, shift);
    if (status == LDS_OK &&
        (!lds_each_channel(asked->channels, lds_threads(asked->options), run_look, &l) || !find_driven(&l)))
        status = lds_fail_memory(error, "the look for the tone");
    free(l.x);
    return status;
}

enum lds_status lds_measure_tones(struct lds_capture *capture, const struct lds_measure_options *options,
                                  struct lds_tone *tone, size_t *tones, struct lds_error *error)
{
    struct lds_asked asked;
    struct lds_look look;
    *tones = 0;
    enum lds_status status = lds_asked_check(lds_capture_info(capture), options, &asked, error);
    if (status == LDS_OK)
        status = lds_look_for_tones(capture, &asked, &look, error);
    if (status != LDS_OK)
        return status;
    for (size_t c = 0; c < asked.channels; c++) {
        const struct lds_scout *scout = &look.scout[c];
        const struct lds_bench *bench = &asked.bench[c];
        double scale = lds_bench_volts_per_unit(bench);
        tone[c] = (struct lds_tone){.channel = asked.channel[c] + 1,
                                    .frequency_hz = scout->tone_hz,
                                    .level = NAN,
                                    .tones = isnan(scout->tone_hz) ? 0
                                             : scout->tones > 1    ? scout->tones
                                                                   : 1,
                                    .second_hz = scout->second_hz,
                                    .perhaps_hum = scout->hum_order > 0};
        if (!isnan(scout->tone_hz))
            tone[c].level = scout->level * (isnan(scale) ? 1.0 : scale) / lds_bench_gain(bench, scout->tone_hz);
    }
    *tones = asked.channels;
    return LDS_OK;
}
