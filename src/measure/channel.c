#include "measure/channel.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "measure/analyser.h"
#include "measure/flags.h"
#include "measure/health/problems.h"
#include "record/record.h"
#include "scarce.h"

typedef bool take_samples(void *state, const double *x, size_t n);

/* The analysers that take one kind of samples. */
struct takers {
    int count;
    struct {
        take_samples *take;
        void *state;
    } taker[LDS_ANALYSERS];
};

struct lds_channel_pass {
    struct lds_findings *findings;
    struct lds_cascade *cascade;
    void *state[LDS_ANALYSERS];
    struct takers raw, audio, slow;
    struct lds_kept_frames kept[LDS_SLOTS];
    int slot;
    bool failed;
    double chunk[LDS_CHUNK];
};

static void add_taker(struct takers *takers, take_samples *take, void *state)
{
    if (!take)
        return;
    takers->taker[takers->count].take = take;
    takers->taker[takers->count++].state = state;
}

static void feed(struct lds_channel_pass *pass, const struct takers *takers, const double *x, size_t n)
{
    for (int i = 0; i < takers->count; i++)
        if (!takers->taker[i].take(takers->taker[i].state, x, n))
            pass->failed = true;
}

static void on_slow(void *context, const double *x, size_t n)
{
    struct lds_channel_pass *pass = context;
    feed(pass, &pass->slow, x, n);
}

static void on_audio(void *context, const double *x, size_t n)
{
    struct lds_channel_pass *pass = context;
    feed(pass, &pass->audio, x, n);
}

static void on_frame(void *context, const struct lds_frame *frame)
{
    struct lds_channel_pass *pass = context;
    const struct lds_pass_shape *shape = pass->findings->shape;
    for (int i = 0; i < LDS_ANALYSERS; i++) {
        const struct lds_analyser *analyser = lds_analysers[i];
        bool wanted = analyser->frames == LDS_ALL_FRAMES || frame->level == shape->plan->audio;
        if (pass->state[i] && analyser->frame && wanted && !analyser->frame(pass->state[i], frame))
            pass->failed = true;
    }
    if (shape->keep_frames && !lds_kept_frames_add(&pass->kept[pass->slot], shape->plan, frame))
        pass->failed = true;
}

static bool is_wanted(const struct lds_analyser *analyser, const struct lds_findings *start)
{
    bool tone = !isnan(start->scout.tone_hz);
    return analyser->make && lds_analyser_is_for(analyser, start->signal.kind) &&
           !(analyser->still && lds_findings_moving(start)) &&
           (analyser->tone == LDS_ANY_TONE || tone == (analyser->tone == LDS_WITH_TONE));
}

static bool make_analysers(struct lds_channel_pass *pass)
{
    for (int i = 0; i < LDS_ANALYSERS; i++) {
        const struct lds_analyser *analyser = lds_analysers[i];
        if (!is_wanted(analyser, pass->findings))
            continue;
        if (!analyser->make(pass->findings, &pass->state[i]))
            return false;
        if (!pass->state[i])
            continue;
        add_taker(&pass->raw, analyser->raw, pass->state[i]);
        add_taker(&pass->audio, analyser->audio, pass->state[i]);
        add_taker(&pass->slow, analyser->slow, pass->state[i]);
    }
    return true;
}

struct lds_channel_pass *lds_channel_pass_new(struct lds_findings *findings)
{
    struct lds_channel_pass *pass = calloc(1, sizeof *pass);
    if (!pass)
        return NULL;
    struct lds_listener listener = {pass, on_frame, on_slow, on_audio};
    pass->findings = findings;
    pass->cascade = lds_cascade_new(findings->shape->plan, &listener);
    if (pass->cascade) {
        findings->audio_start_s = lds_cascade_audio_start_s(pass->cascade);
        findings->slow_start_s = lds_cascade_slow_start_s(pass->cascade);
        if (make_analysers(pass))
            return pass;
    }
    lds_channel_pass_free(pass);
    return NULL;
}

void lds_channel_pass_free(struct lds_channel_pass *pass)
{
    if (!pass)
        return;
    for (int i = 0; i < LDS_ANALYSERS; i++)
        if (pass->state[i])
            lds_analysers[i]->free(pass->state[i]);
    lds_cascade_free(pass->cascade);
    for (int s = 0; s < LDS_SLOTS; s++)
        lds_kept_frames_free(&pass->kept[s]);
    free(pass);
}

bool lds_channel_pass_push(struct lds_channel_pass *pass, const double *interleaved, int64_t frames, int channels,
                           int index, int slot)
{
    pass->slot = slot;
    pass->kept[slot].count = 0;
    for (int64_t at = 0; at < frames;) {
        int64_t n = frames - at < LDS_CHUNK ? frames - at : LDS_CHUNK;
        const double *x = interleaved + at * channels + index;
        for (int64_t i = 0; i < n; i++)
            pass->chunk[i] = x[i * channels];
        feed(pass, &pass->raw, pass->chunk, (size_t)n);
        lds_cascade_push(pass->cascade, pass->chunk, (size_t)n);
        at += n;
    }
    return !pass->failed;
}

const struct lds_kept_frames *lds_channel_pass_kept(const struct lds_channel_pass *pass, int slot)
{
    return &pass->kept[slot];
}

bool lds_channel_pass_finish(struct lds_channel_pass *pass)
{
    lds_cascade_finish(pass->cascade, &pass->findings->density);
    for (int i = 0; i < LDS_ANALYSERS; i++) {
        const struct lds_analyser *analyser = lds_analysers[i];
        bool made = pass->state[i] || !analyser->make;
        if (made && analyser->finish && !analyser->finish(pass->state[i], pass->findings))
            return false;
    }
    return true;
}

bool lds_channel_pass_figures(struct lds_channel_pass *pass, struct lds_channel *channel)
{
    struct lds_findings *findings = pass->findings;
    channel->calibrated = findings->calibrated;
    channel->signal = findings->signal;
    for (int i = 0; i < LDS_ANALYSERS; i++) {
        const struct lds_analyser *analyser = lds_analysers[i];
        if (pass->state[i] && analyser->after_jumps && !analyser->after_jumps(pass->state[i], findings))
            return false;
    }
    if (!lds_problems_find(findings))
        return false;
    lds_flags_find(findings);
    channel->flag_rules = &findings->flags;
    for (int i = 0; i < LDS_ANALYSERS; i++) {
        const struct lds_analyser *analyser = lds_analysers[i];
        if (analyser->figures && lds_analyser_is_for(analyser, findings->signal.kind) &&
            !analyser->figures(pass->state[i], channel, findings))
            return false;
    }
    channel->flag_rules = NULL;
    lds_figures_bound(channel->figure, channel->figures);
    return !lds_scarce_take();
}
