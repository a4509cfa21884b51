/* lds_measure: checks what was asked for, finds the tone in a short look, makes one pass over the capture, then the
 * figures. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "capture/reader.h"
#include "constants.h"
#include "fail.h"
#include "loadside/measure.h"
#include "measure/asked.h"
#include "measure/channel.h"
#include "measure/dc/thump.h"
#include "measure/each_channel.h"
#include "measure/fill.h"
#include "measure/findings.h"
#include "measure/intermodulation/products.h"
#include "measure/known/measure_known.h"
#include "measure/known/reference_channel.h"
#include "measure/pair/coherence.h"
#include "measure/pair/identical.h"
#include "measure/pair/pairs.h"
#include "measure/power/measure_power.h"
#include "measure/signal/look.h"
#include "measure/tone/jump_look.h"
#include "record/record.h"
#include "record/series.h"
#include "schedule.h"

static const double DEFAULT_HIGH_HZ = 20000.0;
enum { BLOCK_SAMPLES = 1 << 15, CHANNELS_COHERENT = 8 };

struct pass {
    struct lds_capture *capture;
    const struct lds_capture_info *info;
    const struct lds_measure_options *options;
    struct lds_error *error;
    enum lds_status status;
    struct lds_asked asked;
    struct lds_look look;
    struct lds_plan plan;
    struct lds_pass_shape shape;
    int64_t block_frames, blocks;
    double *block[LDS_SLOTS];
    int64_t got[LDS_SLOTS];
    struct lds_channel_pass *channel[LDS_CHANNELS_MAX];
    struct lds_findings *findings;
    struct lds_coherence coherence[LDS_PAIRS_MAX]; /* of the pairs asked for */
    bool coherent;                                 /* whether it is measured */
    struct lds_channel *record;
};

/* A stage's context: the pass, and a channel or pair. */
struct item {
    struct pass *pass;
    size_t index;
};

static double lines_to(const struct pass *p)
{
    double high = DEFAULT_HIGH_HZ;
    for (size_t i = 0; i < p->options->bands; i++)
        high = fmax(high, p->options->band[i].high_hz);
    return fmin(high, LDS_USABLE_SHARE * p->info->rate_hz);
}

static bool run_reader(void *context, int64_t block, int slot)
{
    struct pass *p = ((struct item *)context)->pass;
    int64_t first = block * p->block_frames;
    int64_t wanted = p->info->frames - first < p->block_frames ? p->info->frames - first : p->block_frames;
    p->status = lds_fill(p->capture, p->block[slot], wanted, &p->got[slot], p->error);
    return p->status == LDS_OK;
}

static bool run_channel(void *context, int64_t block, int slot)
{
    struct item *item = context;
    struct pass *p = item->pass;
    (void)block;
    return lds_channel_pass_push(p->channel[item->index], p->block[slot], p->got[slot], p->info->channels,
                                 p->asked.channel[item->index], slot);
}

static bool run_pair(void *context, int64_t block, int slot)
{
    struct item *item = context;
    struct pass *p = item->pass;
    const size_t *of = p->asked.pair[item->index];
    const struct lds_kept_frames *a = lds_channel_pass_kept(p->channel[of[0]], slot);
    const struct lds_kept_frames *b = lds_channel_pass_kept(p->channel[of[1]], slot);
    (void)block;
    for (size_t i = 0; i < a->count && i < b->count; i++)
        lds_coherence_frame(&p->coherence[item->index], a->frame[i].level, a->frame[i].spectrum, b->frame[i].spectrum);
    return true;
}

static bool run_finish(void *context, size_t index)
{
    struct pass *p = context;
    return lds_channel_pass_finish(p->channel[index]);
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
    for (size_t c = 0; c < p->asked.channels; c++, count++) {
        item[count] = (struct item){p, c};
        stage[count] = (struct lds_stage){.run = run_channel, .context = &item[count], .needs = {0, -1}};
    }
    for (size_t i = 0; p->coherent && i < p->asked.pairs; i++, count++) {
        item[count] = (struct item){p, i};
        const int needs[2] = {1 + (int)p->asked.pair[i][0], 1 + (int)p->asked.pair[i][1]};
        stage[count] = (struct lds_stage){.run = run_pair, .context = &item[count], .needs = {needs[0], needs[1]}};
    }
    enum lds_status status = lds_capture_seek(p->capture, 0, p->error);
    if (status != LDS_OK)
        return status;
    if (!lds_schedule(stage, count, p->blocks, lds_threads(p->options), tick, p))
        return p->status != LDS_OK ? p->status : lds_fail_memory(p->error, "the pass over the capture");
    return lds_each_channel(p->asked.channels, lds_threads(p->options), run_finish, p)
               ? LDS_OK
               : lds_fail_memory(p->error, "the figures");
}

static bool run_new(void *context, size_t index)
{
    struct pass *p = context;
    lds_findings_begin(&p->findings[index], &p->shape, &p->asked.bench[index], &p->look.scout[index],
                       &p->look.driven[index]);
    p->channel[index] = lds_channel_pass_new(&p->findings[index]);
    return p->channel[index] != NULL;
}

/* The smallest distance of lines that frames must resolve: of a tone from 0 Hz, and of two tones and their products
 * from each other, as far as the capture is long enough to resolve those at all. */
static double closest_lines_hz(const struct pass *p)
{
    double least_hz = lds_plan_finest_hz(p->info->rate_hz, p->info->frames), closest = INFINITY;
    for (size_t c = 0; c < p->asked.channels; c++) {
        const struct lds_scout *scout = &p->look.scout[c];
        if (isnan(scout->tone_hz))
            continue;
        closest = fmin(closest, scout->tone_hz);
        double low = fmin(scout->tone_hz, scout->second_hz), high = fmax(scout->tone_hz, scout->second_hz);
        if (!isnan(scout->second_hz))
            closest = fmin(closest, lds_products_spacing((const double[]){low, high}, least_hz));
    }
    return closest;
}

static bool has_coherence(const struct pass *p)
{
    for (size_t i = 0; i < p->asked.pairs && p->asked.channels <= CHANNELS_COHERENT; i++)
        if (!lds_findings_moving(&p->findings[p->asked.pair[i][0]]) &&
            !lds_findings_moving(&p->findings[p->asked.pair[i][1]]))
            return true;
    return false;
}

static enum lds_status prepare(struct pass *p)
{
    double lowest = closest_lines_hz(p);
    double lines_hz = lines_to(p);
    if (!lds_plan_make(&p->plan, p->info->rate_hz, p->info->frames, isfinite(lowest) ? lowest : 0.0, lines_hz))
        return lds_fail_memory(p->error, "the analysis");
    double mains_hz = isnan(p->options->mains_hz) ? p->options->bench.mains_hz : p->options->mains_hz;
    p->shape = (struct lds_pass_shape){.plan = &p->plan,
                                       .options = p->options,
                                       .info = p->info,
                                       .seconds = (double)p->info->frames / p->info->rate_hz,
                                       .mains_hz = mains_hz,
                                       .lines_to_hz = lines_hz,
                                       .stated = p->asked.stated};
    p->block_frames = BLOCK_SAMPLES / p->info->channels;
    p->blocks = (p->info->frames + p->block_frames - 1) / p->block_frames;
    p->findings = calloc(p->asked.channels, sizeof *p->findings);
    bool memory = p->findings != NULL;
    for (int s = 0; s < LDS_SLOTS; s++) {
        p->block[s] = malloc((size_t)p->block_frames * (size_t)p->info->channels * sizeof(double));
        memory = memory && p->block[s];
    }
    memory = memory && lds_each_channel(p->asked.channels, lds_threads(p->options), run_new, p);
    p->coherent = p->shape.keep_frames = memory && has_coherence(p);
    for (size_t i = 0; memory && p->coherent && i < p->asked.pairs; i++)
        memory = lds_coherence_init(&p->coherence[i], &p->plan);
    return memory ? LDS_OK : lds_fail_memory(p->error, "the analysis");
}

static void release(struct pass *p)
{
    for (int s = 0; s < LDS_SLOTS; s++)
        free(p->block[s]);
    for (size_t c = 0; c < p->asked.channels; c++)
        lds_channel_pass_free(p->channel[c]);
    for (size_t i = 0; i < p->asked.pairs; i++)
        lds_coherence_free(&p->coherence[i]);
    for (size_t c = 0; p->findings && c < p->asked.channels; c++)
        lds_findings_free(&p->findings[c]);
    free(p->findings);
    lds_plan_free(&p->plan);
}

/* Reads the capture again where the tone's phase may have jumped, and where the amplifier was switched on. */
static enum lds_status look_again(struct pass *p)
{
    enum lds_status status = LDS_OK;
    for (size_t c = 0; status == LDS_OK && c < p->asked.channels; c++) {
        if (p->findings[c].has_tone)
            status = lds_jump_look(p->capture, p->asked.channel[c], &p->findings[c], p->error);
        if (status == LDS_OK)
            status = lds_dc_look(p->capture, p->asked.channel[c], &p->findings[c], p->error);
    }
    return status;
}

static bool run_figures(void *context, size_t index)
{
    struct pass *p = context;
    return lds_channel_pass_figures(p->channel[index], &p->record[index]);
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
    for (size_t c = 0; c < p->asked.channels; c++)
        if (p->asked.bench[c].dc_coupled)
            m->settle_band_v = p->options->settle_band_v;
    m->channel = calloc(p->asked.channels, sizeof *m->channel);
    m->pair = p->asked.pairs > 0 ? calloc(p->asked.pairs, sizeof *m->pair) : NULL;
    if (!m->channel || (p->asked.pairs > 0 && !m->pair))
        return lds_fail_memory(p->error, "the record");
    for (size_t c = 0; c < p->asked.channels; c++) {
        m->channels = c + 1;
        m->channel[c].channel = p->asked.channel[c] + 1;
        const char *name = lds_bench_channel_name(&m->bench, m->channel[c].channel);
        m->channel[c].name = name ? strdup(name) : NULL;
        if (name && !m->channel[c].name)
            return lds_fail_memory(p->error, "the record");
    }
    p->record = m->channel;
    lds_identical_find(p->findings, p->asked.channels);
    if (!lds_each_channel(p->asked.channels, lds_threads(p->options), run_figures, p))
        return lds_fail_memory(p->error, "the record");
    choose_signal(p, m);
    for (size_t i = 0; i < p->asked.pairs; i++) {
        const size_t *of = p->asked.pair[i];
        m->pairs = i + 1;
        m->pair[i].channels[0] = p->asked.channel[of[0]] + 1;
        m->pair[i].channels[1] = p->asked.channel[of[1]] + 1;
        const struct lds_coherence *coherence = p->coherent ? &p->coherence[i] : NULL;
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
    m->settle_band_v = NAN;
    memcpy(m->format, info->format, sizeof m->format);
    memcpy(m->date, info->date, sizeof m->date);
    if (!m->file)
        return lds_fail_memory(error, "the record");
    return lds_bench_copy(&m->bench, &options->bench, error);
}

/* Turns times in the part that was measured into times in the capture. */
static void shift_times(struct lds_measurement *m, double seconds)
{
    for (size_t c = 0; c < m->channels; c++) {
        const struct lds_channel *channel = &m->channel[c];
        for (size_t i = 0; i < channel->problems; i++)
            channel->problem[i].at_s += seconds;
        for (size_t k = 0; k < channel->series_count; k++) {
            struct lds_series *series = &channel->series[k];
            int axis = series->kind->axis;
            if (series->kind->column[axis].quantity != LDS_QUANTITY_SECONDS)
                continue;
            for (size_t i = 0; i < series->rows; i++)
                lds_series_set(series, i, axis, lds_series_value(series, i, axis) + seconds);
        }
    }
}

enum lds_status lds_measure(struct lds_capture *capture, const struct lds_measure_options *options,
                            struct lds_measurement *measurement, struct lds_error *error)
{
    struct pass p = {.capture = capture, .info = lds_capture_info(capture), .options = options, .error = error};
    enum lds_status status = begin_measurement(capture, options, measurement, error);
    if (status == LDS_OK)
        status = lds_asked_check(p.info, options, &p.asked, error);
    if (status == LDS_OK)
        status = lds_asked_check_tones(&p.asked, error);
    int64_t first = 0, frames = 0; /* of a stated tone, without the silence around it */
    if (status == LDS_OK && options->known.kind != LDS_SIGNAL_NONE)
        status = lds_known_span(capture, &p.asked, &first, &frames, error);
    if (frames > 0)
        lds_capture_limit(capture, first, frames);
    if (status == LDS_OK)
        status = lds_look_for_tones(capture, &p.asked, &p.look, error);
    if (status == LDS_OK)
        status = prepare(&p);
    if (status == LDS_OK)
        status = run_pass(&p);
    if (status == LDS_OK)
        status = look_again(&p);
    if (status == LDS_OK)
        status = record(&p, measurement);
    shift_times(measurement, (double)first / p.info->rate_hz);
    if (frames > 0)
        lds_capture_limit(capture, 0, 0);
    release(&p); /* everything but p.asked: the next steps need the memory */
    if (status == LDS_OK && options->known.kind != LDS_SIGNAL_NONE)
        status = lds_known_measure(capture, &p.asked, measurement, error);
    if (status == LDS_OK && options->reference > 0)
        status = lds_reference_measure(capture, &p.asked, measurement, error);
    if (status == LDS_OK)
        status = lds_power_measure(capture, &p.asked, measurement, error);
    return status;
}
