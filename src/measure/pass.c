/* lds_measure: a short look for the tone, one pass over the capture, then the figures. */
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "constants.h"
#include "fail.h"
#include "loadside/measure.h"
#include "measure/channel.h"
#include "measure/findings.h"
#include "measure/pair/coherence.h"
#include "measure/pair/identical.h"
#include "measure/pair/pairs.h"
#include "measure/signal/driven.h"
#include "measure/signal/scout.h"
#include "measure/tone/jump_look.h"
#include "record/record.h"
#include "schedule.h"
#include "spectrum/decimate.h"

static const double SHORTEST_S = 0.2;
static const double DEFAULT_HIGH_HZ = 20000.0;
enum { BLOCK_SAMPLES = 1 << 15, LOOK_SAMPLES = 1 << 16, CHANNELS_COHERENT = 8 };

/* The channel numbers to measure, from 0. */
struct selection {
    size_t count;
    int index[LDS_CHANNELS_MAX];
};

struct pass {
    struct lds_capture *capture;
    const struct lds_capture_info *info;
    const struct lds_measure_options *options;
    struct lds_bench bench[LDS_CHANNELS_MAX]; /* of each channel measured; what it points at is that of the options */
    struct lds_error *error;
    enum lds_status status;
    struct lds_stated_signal stated;
    struct selection selection;
    struct lds_scout scout[LDS_CHANNELS_MAX];
    struct lds_driven_look driven_look[LDS_CHANNELS_MAX];
    struct lds_driven driven[LDS_CHANNELS_MAX];
    struct lds_plan plan;
    struct lds_pass_shape shape;
    int64_t block_frames, blocks;
    double *block[LDS_SLOTS];
    int64_t got[LDS_SLOTS];
    struct lds_channel_pass *channel[LDS_CHANNELS_MAX];
    struct lds_findings *findings;
    size_t pairs;
    struct pair {
        size_t of[2]; /* places in the selection */
        struct lds_coherence coherence;
    } pair[LDS_PAIRS_MAX];
    bool coherent; /* whether the coherence is measured */
    double *look;  /* a short stretch of each channel, look_length samples each, of which look_got were read */
    size_t look_length, look_got;
    double look_rate_hz;
    struct lds_channel *record;
};

/* A stage's context: the pass, and a channel or pair. */
struct item {
    struct pass *pass;
    size_t index;
};

static int thread_count(const struct lds_measure_options *options)
{
    if (options->threads > 0)
        return options->threads;
    long cores = sysconf(_SC_NPROCESSORS_ONLN);
    return cores > 0 ? (int)cores : 1;
}

/* Runs `run` once for each channel, in parallel. false when one of them failed. */
static bool each_channel(struct pass *p, bool (*run)(void *context, int64_t block, int slot))
{
    struct lds_stage stage[LDS_CHANNELS_MAX];
    struct item item[LDS_CHANNELS_MAX];
    for (size_t c = 0; c < p->selection.count; c++) {
        item[c] = (struct item){p, c};
        stage[c] = (struct lds_stage){.run = run, .context = &item[c], .needs = {-1, -1}};
    }
    return lds_schedule(stage, (int)p->selection.count, 1, thread_count(p->options), NULL, NULL);
}

/* Takes a pair that was asked for, the lower channel first. One that is there already is not taken again. */
static enum lds_status take_pair(struct pass *p, const int asked[2])
{
    const int low = asked[0] < asked[1] ? asked[0] : asked[1], high = asked[0] + asked[1] - low;
    if (low < 1 || high > p->info->channels || low == high)
        return lds_fail(p->error, LDS_BAD_USE,
                        "the pair %d-%d was asked for, but the capture holds %d channel%s: choose two of 1 to %d",
                        asked[0], asked[1], p->info->channels, p->info->channels == 1 ? "" : "s", p->info->channels);
    if (p->options->channel > 0)
        return lds_fail(p->error, LDS_BAD_USE,
                        "the pair %d-%d was asked for, but only channel %d: leave one of them out", asked[0], asked[1],
                        p->options->channel);
    const struct pair pair = {.of = {(size_t)low - 1, (size_t)high - 1}}; /* all channels are measured */
    for (size_t i = 0; i < p->pairs; i++)
        if (p->pair[i].of[0] == pair.of[0] && p->pair[i].of[1] == pair.of[1])
            return LDS_OK;
    p->pair[p->pairs++] = pair;
    return LDS_OK;
}

static enum lds_status choose_pairs(struct pass *p)
{
    enum lds_status status = LDS_OK;
    for (size_t i = 0; status == LDS_OK && i < p->options->pairs; i++)
        status = take_pair(p, p->options->pair[i]);
    if (p->options->pairs == 0)
        for (; 2 * p->pairs + 1 < p->selection.count; p->pairs++)
            p->pair[p->pairs] = (struct pair){.of = {2 * p->pairs, 2 * p->pairs + 1}};
    return status;
}

/* Where the capture states volts it has no full scale; no channel is trusted farther than the capture. */
static void choose_benches(struct pass *p)
{
    const struct lds_bench *whole = &p->options->bench;
    for (size_t c = 0; c < p->selection.count; c++) {
        p->bench[c] = *lds_bench_of(whole, p->selection.index[c] + 1);
        p->bench[c].usable_to_hz = fmin(p->bench[c].usable_to_hz, whole->usable_to_hz);
        if (p->info->in_volts)
            p->bench[c].full_scale_v = 1.0;
    }
}

static enum lds_status check(struct pass *p)
{
    const struct lds_capture_info *info = p->info;
    double seconds = (double)info->frames / info->rate_hz;
    if (seconds < SHORTEST_S * (1.0 - 1e-9))
        return lds_fail(p->error, LDS_BAD_INPUT, "the capture holds %.3g s; figures need at least %g s: record longer",
                        seconds, SHORTEST_S);
    if (p->options->channel < 0 || p->options->channel > info->channels)
        return lds_fail(p->error, LDS_BAD_USE, "channel %d was asked for, but the capture holds %d: choose 1 to %d",
                        p->options->channel, info->channels, info->channels);
    for (size_t i = 0; i < p->options->drivens; i++)
        if (p->options->driven[i] < 1 || p->options->driven[i] > info->channels)
            return lds_fail(p->error, LDS_BAD_USE,
                            "channel %d was stated to be driven, but the capture holds %d: state 1 to %d",
                            p->options->driven[i], info->channels, info->channels);
    for (size_t i = 0; i < p->options->bands; i++) {
        const struct lds_band *band = &p->options->band[i];
        if (!(band->low_hz > 0.0 && band->high_hz > band->low_hz))
            return lds_fail(p->error, LDS_BAD_USE, "the band %g-%g Hz is not valid: give LO-HI with 0 < LO < HI",
                            band->low_hz, band->high_hz);
    }
    for (int c = 0; c < info->channels; c++)
        if (p->options->channel == 0 || p->options->channel == c + 1)
            p->selection.index[p->selection.count++] = c;
    choose_benches(p);
    return choose_pairs(p);
}

/* tone_hz is short for a stated sine, or for silence. */
static struct lds_stated_signal stated_signal(const struct lds_measure_options *options)
{
    if (options->signal.kind != LDS_SIGNAL_NONE || isnan(options->tone_hz))
        return options->signal;
    if (options->tone_hz == 0.0)
        return (struct lds_stated_signal){LDS_SIGNAL_SILENCE, {NAN, NAN}};
    return (struct lds_stated_signal){LDS_SIGNAL_SINE, {options->tone_hz, NAN}};
}

static bool has_tones(const struct lds_stated_signal *stated)
{
    return stated->kind == LDS_SIGNAL_SINE || stated->kind == LDS_SIGNAL_TWO_TONE;
}

/* What the look is asked for, see struct lds_scout_request: no tone where the signal is stated and has none. */
static double given_hz(const struct lds_stated_signal *stated)
{
    if (stated->kind == LDS_SIGNAL_NONE)
        return NAN;
    return has_tones(stated) ? stated->frequency_hz[0] : 0.0;
}

/* A tone is searched and tracked on the audio level. */
static enum lds_status check_tone(const struct pass *p, double tone_hz)
{
    double rate_hz = p->info->rate_hz;
    if (isnan(tone_hz))
        return LDS_OK;
    int shift = lds_audio_shift(rate_hz);
    double look = fmin(LOOK_SAMPLES, ldexp((double)p->info->frames, -shift));
    double least = lds_scout_lowest_hz((size_t)look, ldexp(rate_hz, -shift));
    double most = shift > 0 ? 0.4 * ldexp(rate_hz, -shift) : LDS_USABLE_SHARE * rate_hz;
    if (tone_hz >= least && tone_hz <= most)
        return LDS_OK;
    return lds_fail(p->error, LDS_BAD_USE,
                    "a tone of %.6g Hz was stated; %.3g s at %.6g Hz can hold one from %.3g to %.6g Hz: state the tone "
                    "that was played, or 0 when there is none",
                    tone_hz, (double)p->info->frames / rate_hz, rate_hz, least, most);
}

static enum lds_status check_signal(const struct pass *p)
{
    const struct lds_stated_signal *stated = &p->stated;
    enum lds_status status = has_tones(stated) ? check_tone(p, stated->frequency_hz[0]) : LDS_OK;
    if (status == LDS_OK && stated->kind == LDS_SIGNAL_TWO_TONE)
        status = check_tone(p, stated->frequency_hz[1]);
    return status;
}

static double lines_to(const struct pass *p)
{
    double high = DEFAULT_HIGH_HZ;
    for (size_t i = 0; i < p->options->bands; i++)
        high = fmax(high, p->options->band[i].high_hz);
    return fmin(high, LDS_USABLE_SHARE * p->info->rate_hz);
}

/* ---- the look ---- */

/* Reads the middle of the capture once and decimates every channel of it to the audio level's rate. */
static enum lds_status read_look(struct pass *p, int shift, size_t length, double *look, size_t *got)
{
    size_t channels = (size_t)p->info->channels, selected = p->selection.count;
    int64_t wanted = (int64_t)((length + 256) << shift);
    if (wanted > p->info->frames)
        wanted = p->info->frames;
    enum lds_status status = lds_capture_seek(p->capture, (p->info->frames - wanted) / 2, p->error);
    struct lds_decimator *decimator[LDS_CHANNELS_MAX] = {0};
    double *block = malloc(LDS_CHUNK * channels * sizeof *block), *one = malloc(LDS_CHUNK * sizeof *one);
    bool memory = block && one;
    for (size_t c = 0; c < selected; c++) {
        decimator[c] = lds_decimator_new(shift, 0.4, LDS_CHUNK);
        memory = memory && decimator[c];
    }
    if (status == LDS_OK && !memory)
        status = lds_fail_memory(p->error, "the look for the tone");
    size_t filled[LDS_CHANNELS_MAX] = {0};
    while (status == LDS_OK && wanted > 0) {
        int64_t n = 0;
        status = lds_capture_read(p->capture, block, wanted < LDS_CHUNK ? wanted : LDS_CHUNK, &n, p->error);
        if (n == 0)
            break;
        wanted -= n;
        for (size_t c = 0; c < selected; c++) {
            for (int64_t i = 0; i < n; i++)
                one[i] = block[(size_t)i * channels + (size_t)p->selection.index[c]];
            const double *out;
            size_t produced;
            lds_decimator_push(decimator[c], one, (size_t)n, &out, &produced);
            size_t room = length - filled[c];
            produced = produced < room ? produced : room;
            memcpy(look + c * length + filled[c], out, produced * sizeof *out);
            filled[c] += produced;
        }
    }
    for (size_t c = 0; c < selected; c++)
        lds_decimator_free(decimator[c]);
    free(block);
    free(one);
    *got = filled[0];
    return status;
}

static bool run_look(void *context, int64_t block, int slot)
{
    struct item *item = context;
    struct pass *p = item->pass;
    (void)block;
    (void)slot;
    const struct lds_scout_request request = {.rate_hz = p->look_rate_hz,
                                              .in_volts = p->info->in_volts,
                                              .volts_per_unit = lds_bench_volts_per_unit(&p->bench[item->index]),
                                              .given_hz = given_hz(&p->stated)};
    struct lds_scout *scout = &p->scout[item->index];
    if (!lds_scout_look(p->look + item->index * p->look_length, p->look_got, &request, scout))
        return false;
    if (p->stated.kind == LDS_SIGNAL_TWO_TONE && !isnan(p->stated.frequency_hz[1]) && !isnan(scout->tone_hz)) {
        scout->second_hz = p->stated.frequency_hz[1];
        scout->tones = 2;
    }
    return true;
}

/* Looks again at a channel without a tone, near the strongest tone of another channel. */
static bool run_second_look(void *context, int64_t block, int slot)
{
    struct item *item = context;
    struct pass *p = item->pass;
    (void)block;
    (void)slot;
    const double *x = p->look + item->index * p->look_length;
    int strongest = lds_driven_strongest(p->driven_look, p->selection.count);
    struct lds_driven_look *look = &p->driven_look[item->index];
    double square = 0.0;
    for (size_t i = 0; i < p->look_got; i++)
        square += x[i] * x[i] / (double)p->look_got;
    look->rms = sqrt(square);
    if (strongest < 0 || !isnan(look->scout->tone_hz) || given_hz(&p->stated) == 0.0)
        return true;
    const struct lds_scout_request request = {.rate_hz = p->look_rate_hz,
                                              .in_volts = p->info->in_volts,
                                              .volts_per_unit = lds_bench_volts_per_unit(&p->bench[item->index]),
                                              .given_hz = p->scout[strongest].tone_hz};
    return lds_scout_look(x, p->look_got, &request, &look->at_strongest);
}

/* Which channels are driven; a single one has none to compare with. */
static bool find_driven(struct pass *p)
{
    size_t count = p->selection.count;
    for (size_t c = 0; c < count; c++)
        p->driven_look[c] = (struct lds_driven_look){
            .channel = p->selection.index[c] + 1, .scout = &p->scout[c], .at_strongest = {.tone_hz = NAN}};
    if (count > 1 && !each_channel(p, run_second_look))
        return false;
    if (count > 1 || p->options->drivens > 0)
        lds_driven_find(p->driven_look, count, p->options->driven, p->options->drivens,
                        p->look_rate_hz / (double)p->look_got, p->driven);
    return true;
}

static enum lds_status look_for_tones(struct pass *p)
{
    int shift = lds_audio_shift(p->info->rate_hz);
    p->look_rate_hz = ldexp(p->info->rate_hz, -shift);
    p->look_length = LOOK_SAMPLES;
    p->look = malloc(p->selection.count * p->look_length * sizeof *p->look);
    if (!p->look)
        return lds_fail_memory(p->error, "the look for the tone");
    enum lds_status status = read_look(p, shift, p->look_length, p->look, &p->look_got);
    if (status == LDS_OK && (!each_channel(p, run_look) || !find_driven(p)))
        status = lds_fail_memory(p->error, "the look for the tone");
    free(p->look);
    p->look = NULL;
    return status;
}

/* ---- the pass ---- */

static bool run_reader(void *context, int64_t block, int slot)
{
    struct pass *p = ((struct item *)context)->pass;
    int64_t first = block * p->block_frames;
    int64_t wanted = p->info->frames - first < p->block_frames ? p->info->frames - first : p->block_frames;
    p->got[slot] = 0;
    while (p->got[slot] < wanted) {
        int64_t n = 0;
        double *to = p->block[slot] + p->got[slot] * p->info->channels;
        p->status = lds_capture_read(p->capture, to, wanted - p->got[slot], &n, p->error);
        if (p->status != LDS_OK || n == 0)
            return p->status == LDS_OK;
        p->got[slot] += n;
    }
    return true;
}

static bool run_channel(void *context, int64_t block, int slot)
{
    struct item *item = context;
    struct pass *p = item->pass;
    (void)block;
    return lds_channel_pass_push(p->channel[item->index], p->block[slot], p->got[slot], p->info->channels,
                                 p->selection.index[item->index], slot);
}

static bool run_pair(void *context, int64_t block, int slot)
{
    struct item *item = context;
    struct pass *p = item->pass;
    struct pair *pair = &p->pair[item->index];
    const struct lds_kept_frames *a = lds_channel_pass_kept(p->channel[pair->of[0]], slot);
    const struct lds_kept_frames *b = lds_channel_pass_kept(p->channel[pair->of[1]], slot);
    (void)block;
    for (size_t i = 0; i < a->count && i < b->count; i++)
        lds_coherence_frame(&pair->coherence, a->frame[i].level, a->frame[i].spectrum, b->frame[i].spectrum);
    return true;
}

static bool run_finish(void *context, int64_t block, int slot)
{
    struct item *item = context;
    struct pass *p = item->pass;
    (void)block;
    (void)slot;
    return lds_channel_pass_finish(p->channel[item->index]);
}

static void tick(void *context, int64_t done)
{
    struct pass *p = context;
    if (p->options->progress)
        p->options->progress(p->options->progress_context, "measuring", (double)done / (double)p->blocks);
}

static enum lds_status run_pass(struct pass *p)
{
    enum { STAGES = 1 + LDS_CHANNELS_MAX + LDS_PAIRS_MAX };
    struct lds_stage stage[STAGES];
    struct item item[STAGES];
    int count = 0;
    item[count] = (struct item){p, 0};
    stage[count] = (struct lds_stage){.run = run_reader, .context = &item[0], .needs = {-1, -1}};
    count++;
    for (size_t c = 0; c < p->selection.count; c++, count++) {
        item[count] = (struct item){p, c};
        stage[count] = (struct lds_stage){.run = run_channel, .context = &item[count], .needs = {0, -1}};
    }
    for (size_t i = 0; p->coherent && i < p->pairs; i++, count++) {
        item[count] = (struct item){p, i};
        const int needs[2] = {1 + (int)p->pair[i].of[0], 1 + (int)p->pair[i].of[1]};
        stage[count] = (struct lds_stage){.run = run_pair, .context = &item[count], .needs = {needs[0], needs[1]}};
    }
    enum lds_status status = lds_capture_seek(p->capture, 0, p->error);
    if (status != LDS_OK)
        return status;
    if (!lds_schedule(stage, count, p->blocks, thread_count(p->options), tick, p))
        return p->status != LDS_OK ? p->status : lds_fail_memory(p->error, "the pass over the capture");
    return each_channel(p, run_finish) ? LDS_OK : lds_fail_memory(p->error, "the figures");
}

static bool run_new(void *context, int64_t block, int slot)
{
    struct item *item = context;
    struct pass *p = item->pass;
    (void)block;
    (void)slot;
    lds_findings_begin(&p->findings[item->index], &p->shape, &p->bench[item->index], &p->scout[item->index],
                       &p->driven[item->index]);
    p->channel[item->index] = lds_channel_pass_new(&p->findings[item->index]);
    return p->channel[item->index] != NULL;
}

static enum lds_status prepare(struct pass *p)
{
    double lowest = INFINITY;
    for (size_t c = 0; c < p->selection.count; c++)
        if (!isnan(p->scout[c].tone_hz))
            lowest = fmin(lowest, p->scout[c].tone_hz);
    double lines_hz = lines_to(p);
    if (!lds_plan_make(&p->plan, p->info->rate_hz, p->info->frames, isfinite(lowest) ? lowest : 0.0, lines_hz))
        return lds_fail_memory(p->error, "the analysis");
    double mains_hz = isnan(p->options->mains_hz) ? p->options->bench.mains_hz : p->options->mains_hz;
    p->coherent = p->pairs > 0 && p->selection.count <= CHANNELS_COHERENT;
    p->shape = (struct lds_pass_shape){.plan = &p->plan,
                                       .options = p->options,
                                       .info = p->info,
                                       .seconds = (double)p->info->frames / p->info->rate_hz,
                                       .mains_hz = mains_hz,
                                       .lines_to_hz = lines_hz,
                                       .keep_frames = p->coherent,
                                       .stated = p->stated};
    p->block_frames = BLOCK_SAMPLES / p->info->channels;
    p->blocks = (p->info->frames + p->block_frames - 1) / p->block_frames;
    p->findings = calloc(p->selection.count, sizeof *p->findings);
    bool memory = p->findings != NULL;
    for (int s = 0; s < LDS_SLOTS; s++) {
        p->block[s] = malloc((size_t)p->block_frames * (size_t)p->info->channels * sizeof(double));
        memory = memory && p->block[s];
    }
    memory = memory && each_channel(p, run_new);
    for (size_t i = 0; memory && p->coherent && i < p->pairs; i++)
        memory = lds_coherence_init(&p->pair[i].coherence, &p->plan);
    return memory ? LDS_OK : lds_fail_memory(p->error, "the analysis");
}

static void release(struct pass *p)
{
    for (int s = 0; s < LDS_SLOTS; s++)
        free(p->block[s]);
    for (size_t c = 0; c < p->selection.count; c++)
        lds_channel_pass_free(p->channel[c]);
    for (size_t i = 0; i < p->pairs; i++)
        lds_coherence_free(&p->pair[i].coherence);
    for (size_t c = 0; p->findings && c < p->selection.count; c++)
        lds_findings_free(&p->findings[c]);
    free(p->findings);
    lds_plan_free(&p->plan);
}

/* Reads the capture again where the tone's phase may have jumped. */
static enum lds_status look_for_jumps(struct pass *p)
{
    enum lds_status status = LDS_OK;
    for (size_t c = 0; status == LDS_OK && c < p->selection.count; c++)
        if (p->findings[c].has_tone)
            status = lds_jump_look(p->capture, p->selection.index[c], &p->findings[c], p->error);
    return status;
}

static bool run_figures(void *context, int64_t block, int slot)
{
    struct item *item = context;
    struct pass *p = item->pass;
    (void)block;
    (void)slot;
    return lds_channel_pass_figures(p->channel[item->index], &p->record[item->index]);
}

/* The signal of the channel with the highest level. */
static void choose_signal(const struct pass *p, struct lds_measurement *m)
{
    size_t strongest = 0;
    for (size_t c = 1; c < m->channels; c++)
        if (p->findings[c].health.rms > p->findings[strongest].health.rms)
            strongest = c;
    m->signal = m->channel[strongest].signal;
}

static enum lds_status record(struct pass *p, struct lds_measurement *m)
{
    const struct lds_plan_level *audio = &p->plan.level[p->plan.audio];
    m->window_s = audio->n / audio->rate_hz;
    m->averages = p->findings[0].density.level[p->plan.audio].frames;
    m->channel = calloc(p->selection.count, sizeof *m->channel);
    m->pair = p->pairs > 0 ? calloc(p->pairs, sizeof *m->pair) : NULL;
    if (!m->channel || (p->pairs > 0 && !m->pair))
        return lds_fail_memory(p->error, "the record");
    for (size_t c = 0; c < p->selection.count; c++) {
        m->channels = c + 1;
        m->channel[c].channel = p->selection.index[c] + 1;
        const char *name = lds_bench_channel_name(&m->bench, m->channel[c].channel);
        m->channel[c].name = name ? strdup(name) : NULL;
        if (name && !m->channel[c].name)
            return lds_fail_memory(p->error, "the record");
    }
    p->record = m->channel;
    lds_identical_find(p->findings, p->selection.count);
    if (!each_channel(p, run_figures))
        return lds_fail_memory(p->error, "the record");
    choose_signal(p, m);
    for (size_t i = 0; i < p->pairs; i++) {
        const size_t *of = p->pair[i].of;
        m->pairs = i + 1;
        m->pair[i].channels[0] = p->selection.index[of[0]] + 1;
        m->pair[i].channels[1] = p->selection.index[of[1]] + 1;
        const struct lds_coherence *coherence = p->coherent ? &p->pair[i].coherence : NULL;
        if (!lds_pair_figures(&m->pair[i], &p->findings[of[0]], &p->findings[of[1]], coherence))
            return lds_fail_memory(p->error, "the record");
        lds_figures_bound(m->pair[i].figure, m->pair[i].figures);
    }
    return LDS_OK;
}

static enum lds_status begin_measurement(const struct lds_capture *capture, const struct lds_measure_options *options,
                                         struct lds_measurement *m, struct lds_error *error)
{
    const struct lds_capture_info *info = lds_capture_info(capture);
    memset(m, 0, sizeof *m);
    lds_bench_init(&m->bench);
    m->file = strdup(lds_capture_name(capture));
    m->rate_hz = info->rate_hz;
    m->frames = info->frames;
    m->seconds = (double)info->frames / info->rate_hz;
    memcpy(m->format, info->format, sizeof m->format);
    memcpy(m->date, info->date, sizeof m->date);
    if (!m->file)
        return lds_fail_memory(error, "the record");
    return lds_bench_copy(&m->bench, &options->bench, error);
}

static void begin_pass(struct pass *p, struct lds_capture *capture, const struct lds_measure_options *options,
                       struct lds_error *error)
{
    *p = (struct pass){.capture = capture,
                       .info = lds_capture_info(capture),
                       .options = options,
                       .error = error,
                       .stated = stated_signal(options)};
}

enum lds_status lds_measure_tones(struct lds_capture *capture, const struct lds_measure_options *options,
                                  struct lds_tone *tone, size_t *tones, struct lds_error *error)
{
    struct pass p;
    begin_pass(&p, capture, options, error);
    *tones = 0;
    enum lds_status status = check(&p);
    if (status == LDS_OK)
        status = look_for_tones(&p);
    if (status != LDS_OK)
        return status;
    for (size_t c = 0; c < p.selection.count; c++) {
        const struct lds_scout *scout = &p.scout[c];
        const struct lds_bench *bench = &p.bench[c];
        double scale = lds_bench_volts_per_unit(bench);
        tone[c] = (struct lds_tone){.channel = p.selection.index[c] + 1,
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
    *tones = p.selection.count;
    return LDS_OK;
}

enum lds_status lds_measure(struct lds_capture *capture, const struct lds_measure_options *options,
                            struct lds_measurement *measurement, struct lds_error *error)
{
    struct pass p;
    begin_pass(&p, capture, options, error);
    enum lds_status status = begin_measurement(capture, options, measurement, error);
    if (status == LDS_OK)
        status = check(&p);
    if (status == LDS_OK)
        status = check_signal(&p);
    if (status == LDS_OK)
        status = look_for_tones(&p);
    if (status == LDS_OK)
        status = prepare(&p);
    if (status == LDS_OK)
        status = run_pass(&p);
    if (status == LDS_OK)
        status = look_for_jumps(&p);
    if (status == LDS_OK)
        status = record(&p, measurement);
    release(&p);
    return status;
}

void lds_measure_options_init(struct lds_measure_options *options)
{
    memset(options, 0, sizeof *options);
    lds_bench_init(&options->bench);
    options->mains_hz = NAN;
    options->tone_hz = NAN;
    options->signal = (struct lds_stated_signal){LDS_SIGNAL_NONE, {NAN, NAN}};
}
