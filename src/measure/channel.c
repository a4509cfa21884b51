#include "measure/channel.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "measure/signal/course.h"
#include "measure/signal/signal.h"
#include "measure/spurs/known.h"
#include "measure/tone/harmonics.h"

enum { BANKS = LDS_LEVELS_MAX };
static const double OUT_OF_STEP_HZ = 2e-3; /* a tone and a mains order farther apart than this are unrelated */
static const double PART_EDGE_S = 0.2;     /* at the ends of a tone with silence around it, where its phase may seem to
                                            * jump */

/* Frames kept for the coherence: one in two of those that overlap by three quarters, one in four on the fastest levels,
 * which have plenty. */
enum { KEEP_SLOW = 2, KEEP_FAST = 4 };
enum { FEWEST_HEARD = 7 };

/* Copied frames of one block; a slot holds frames of any level in turn, so each has room for the longest. */
struct kept {
    size_t count, room;
    struct lds_kept_frame *frame;
    struct place {
        double complex *bins;
        size_t room;
    } * place;
};

struct lds_channel_pass {
    const struct lds_pass_shape *shape;
    double tone_hz;
    struct lds_health *health;
    struct lds_cascade *cascade;
    struct lds_tracker *tracker;
    struct lds_zoom *zoom; /* NULL: no tone, or the capture is too short for it */
    struct lds_mains *mains;
    struct lds_bursts *bursts;
    struct lds_course *course;
    struct lds_popcorn *popcorn; /* for captures without a tone */
    struct lds_offset offset;
    struct lds_harmonics *bank[BANKS]; /* by level; NULL where it has no harmonics */
    struct kept kept[LDS_SLOTS];
    int slot;
    bool failed;
    double chunk[LDS_CHUNK];
};

int lds_kept_stride(const struct lds_plan *plan, int level)
{
    return level > plan->audio ? KEEP_FAST : KEEP_SLOW;
}

static bool keep(struct kept *kept, const struct lds_plan_level *level, const struct lds_frame *frame)
{
    size_t bins = (size_t)level->n / 2 + 1;
    if (kept->count == kept->room) {
        size_t room = kept->room + 4;
        struct lds_kept_frame *frames = realloc(kept->frame, room * sizeof *frames);
        kept->frame = frames ? frames : kept->frame;
        struct place *places = frames ? realloc(kept->place, room * sizeof *places) : NULL;
        if (!places)
            return false;
        memset(places + kept->room, 0, 4 * sizeof *places);
        kept->place = places;
        kept->room = room;
    }
    struct place *place = &kept->place[kept->count];
    if (place->room < bins) {
        free(place->bins);
        place->bins = malloc(bins * sizeof *place->bins);
        place->room = place->bins ? bins : 0;
        if (!place->bins)
            return false;
    }
    memcpy(place->bins, frame->spectrum, bins * sizeof *place->bins);
    kept->frame[kept->count++] = (struct lds_kept_frame){frame->level, place->bins};
    return true;
}

static void on_frame(void *context, const struct lds_frame *frame)
{
    struct lds_channel_pass *pass = context;
    const struct lds_plan *plan = pass->shape->plan;
    if (pass->bank[frame->level])
        lds_harmonics_frame(pass->bank[frame->level], frame);
    if (frame->level == plan->audio) {
        lds_bursts_frame(pass->bursts, frame);
        lds_course_frame_push(pass->course, frame);
        if (pass->zoom)
            lds_zoom_frame(pass->zoom, frame->spectrum);
    }
    if (pass->shape->keep_frames && frame->index % lds_kept_stride(plan, frame->level) == 0)
        if (!keep(&pass->kept[pass->slot], &plan->level[frame->level], frame))
            pass->failed = true;
}

static void on_slow(void *context, const double *x, size_t n)
{
    struct lds_channel_pass *pass = context;
    lds_offset_push(&pass->offset, x, n);
    if (!lds_mains_push(pass->mains, x, n) || (pass->popcorn && !lds_popcorn_push(pass->popcorn, x, n)))
        pass->failed = true;
}

static void on_audio(void *context, const double *x, size_t n)
{
    struct lds_channel_pass *pass = context;
    lds_course_push(pass->course, x, n);
    if (pass->tracker && !lds_tracker_push(pass->tracker, x, n))
        pass->failed = true;
}

/* Up to the frequency wanted, and in any case enough orders to see whether the peaks are flattened. */
static double highest_hz(const struct lds_channel_pass *pass)
{
    return fmax(pass->shape->lines_to_hz * (1.0 + 1e-3), FEWEST_HEARD * pass->tone_hz * (1.0 + 1e-3));
}

/* Orders up to the audio level's end are measured there, higher ones on the faster levels, where their lobes are clear
 * of each other. */
static bool make_banks(struct lds_channel_pass *pass)
{
    const struct lds_plan *plan = pass->shape->plan;
    double f1 = pass->tone_hz;
    int first = 1;
    for (int i = plan->audio; i < plan->levels; i++) {
        const struct lds_plan_level *level = &plan->level[i];
        int last = (int)floor(fmin(level->high_hz, highest_hz(pass)) / f1);
        bool clear = f1 >= LDS_LOBE_BINS * level->rate_hz / level->n;
        if (last < first || (i > plan->audio && !clear))
            continue;
        pass->bank[i] = lds_harmonics_new(level, f1, first < 2 ? 2 : first, last < 2 ? 1 : last);
        if (!pass->bank[i])
            return false;
        first = last + 1;
    }
    return true;
}

struct lds_channel_pass *lds_channel_pass_new(const struct lds_pass_shape *shape, const struct lds_scout *scout,
                                              const struct lds_driven *driven)
{
    struct lds_channel_pass *pass = calloc(1, sizeof *pass);
    if (!pass)
        return NULL;
    const struct lds_plan *plan = shape->plan;
    double audio_hz = plan->level[plan->audio].rate_hz, tone_hz = scout->tone_hz;
    pass->shape = shape;
    pass->tone_hz = tone_hz;
    struct lds_listener listener = {pass, on_frame, on_slow, on_audio};
    pass->health = lds_health_new(plan->rate_hz, shape->bits, shape->in_volts);
    pass->cascade = lds_cascade_new(plan, &listener);
    /* Crosstalk of another channel's tone is not this channel's tone, but not hum or noise either. */
    double line_hz = driven->undriven && driven->tones > 0 ? driven->tone_hz[0] : tone_hz;
    pass->mains = lds_mains_new(plan->slow_rate_hz, shape->mains_hz, line_hz, shape->seconds);
    pass->bursts = lds_bursts_new(plan, line_hz);
    pass->course = lds_course_new(plan);
    lds_offset_init(&pass->offset, plan->slow_rate_hz, shape->seconds);
    bool ok = pass->health && pass->cascade && pass->mains && pass->bursts && pass->course;
    if (ok && !isnan(scout->second_hz))
        lds_mains_second_tone(pass->mains, scout->second_hz);
    if (ok && !isnan(tone_hz)) {
        pass->tracker = lds_tracker_new(audio_hz, shape->seconds, tone_hz);
        double stream_s = shape->seconds - 2.0 * lds_cascade_audio_start_s(pass->cascade);
        ok = pass->tracker && make_banks(pass) &&
             lds_zoom_new(&plan->level[plan->audio], stream_s, tone_hz, &pass->zoom);
    } else if (ok) {
        pass->popcorn = lds_popcorn_new(plan->slow_rate_hz);
        ok = pass->popcorn != NULL;
    }
    if (!ok) {
        lds_channel_pass_free(pass);
        return NULL;
    }
    return pass;
}

void lds_channel_pass_free(struct lds_channel_pass *pass)
{
    if (!pass)
        return;
    lds_health_free(pass->health);
    lds_cascade_free(pass->cascade);
    lds_tracker_free(pass->tracker);
    lds_zoom_free(pass->zoom);
    lds_mains_free(pass->mains);
    lds_bursts_free(pass->bursts);
    lds_course_free(pass->course);
    lds_popcorn_free(pass->popcorn);
    for (int i = 0; i < BANKS; i++)
        lds_harmonics_free(pass->bank[i]);
    for (int s = 0; s < LDS_SLOTS; s++) {
        for (size_t i = 0; i < pass->kept[s].room; i++)
            free(pass->kept[s].place[i].bins);
        free(pass->kept[s].place);
        free(pass->kept[s].frame);
    }
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
        lds_health_push(pass->health, pass->chunk, (size_t)n);
        lds_cascade_push(pass->cascade, pass->chunk, (size_t)n);
        at += n;
    }
    return !pass->failed;
}

size_t lds_channel_pass_kept(const struct lds_channel_pass *pass, int slot, const struct lds_kept_frame **frames)
{
    *frames = pass->kept[slot].frame;
    return pass->kept[slot].count;
}

/* The harmonics of all banks in one list, with the bench's response divided out; noise and detection follow with the
 * floor. */
static bool gather_harmonics(const struct lds_channel_pass *pass, struct lds_findings *findings)
{
    const struct lds_plan *plan = pass->shape->plan;
    double f1 = findings->track.frequency_hz;
    int last = 1;
    for (int i = 0; i < BANKS; i++)
        if (pass->bank[i])
            last = lds_harmonics_last(pass->bank[i]) > last ? lds_harmonics_last(pass->bank[i]) : last;
    findings->harmonic = calloc((size_t)last, sizeof *findings->harmonic);
    if (!findings->harmonic)
        return false;
    int order = 1, wanted = (int)floor(pass->shape->lines_to_hz * (1.0 + 1e-3) / pass->tone_hz);
    for (int i = plan->audio; i < plan->levels; i++) {
        if (!pass->bank[i])
            continue;
        for (; order <= lds_harmonics_last(pass->bank[i]) || order == 1; order++) {
            struct lds_harmonic *h = &findings->harmonic[findings->heard++];
            findings->harmonics += order == 1 || order <= wanted;
            h->order = order;
            h->frequency_hz = order * f1;
            double gain = lds_bench_gain(&findings->options->bench, h->frequency_hz);
            h->phasor = order == 1 ? findings->track.level : lds_harmonics_mean(pass->bank[i], order);
            h->phasor /= gain;
        }
    }
    return true;
}

static void drop_jumps(struct lds_findings *findings)
{
    free(findings->track.jump);
    findings->track.jump = NULL;
    findings->track.jumps = 0;
}

/* Where there is no tone, jumps of the phase mean nothing. */
static void drop_jumps_outside(struct lds_findings *findings)
{
    struct lds_track *track = &findings->track;
    size_t kept = 0;
    for (size_t i = 0; i < track->jumps; i++)
        if (track->jump[i].at_s > findings->from_s + PART_EDGE_S && track->jump[i].at_s < findings->to_s - PART_EDGE_S)
            track->jump[kept++] = track->jump[i];
    track->jumps = kept;
}

/* Decides what was played, and what that means for the rest: a tone that is part of something else does not count as a
 * tone. */
static bool recognise(const struct lds_channel_pass *pass, struct lds_findings *findings)
{
    if (findings->driven->undriven) {
        findings->signal.kind = LDS_SIGNAL_SILENCE;
        findings->from_s = findings->to_s = NAN;
        return true;
    }
    const struct lds_pass_shape *shape = pass->shape;
    struct lds_course_result course;
    lds_course_finish(pass->course, lds_cascade_audio_start_s(pass->cascade), &course);
    const struct lds_signal_evidence evidence = {.stated = shape->tone_stated,
                                                 .in_volts = shape->in_volts,
                                                 .volts_per_unit = shape->volts_per_unit,
                                                 .seconds = shape->seconds,
                                                 .scout = &findings->scout,
                                                 .course = &course,
                                                 .density = &findings->density};
    struct lds_signal_found found;
    if (!lds_signal_recognise(&evidence, &found))
        return false;
    findings->signal = found.signal;
    findings->from_s = found.from_s;
    findings->to_s = found.to_s;
    memcpy(findings->unsteady, found.unsteady, sizeof findings->unsteady);
    if (found.why[0])
        memcpy(findings->scout.why, found.why, sizeof findings->scout.why);
    bool tone = found.signal.kind == LDS_SIGNAL_SINE || found.signal.kind == LDS_SIGNAL_TWO_TONE;
    findings->has_tone = findings->track.usable && tone;
    if (findings->has_tone)
        findings->signal.frequency_hz[0] = findings->track.frequency_hz;
    if (!findings->has_tone)
        drop_jumps(findings);
    else if (!isnan(found.from_s))
        drop_jumps_outside(findings);
    return true;
}

/* A tone that might have been hum is not hum if it is out of step with the mains seen in other orders. */
static void settle_hum(struct lds_findings *findings)
{
    const struct lds_mains_result *mains = &findings->mains;
    int order = findings->scout.hum_order;
    if (order == 0 || !mains->found || !findings->track.usable)
        return;
    double off_hz = fabs(findings->track.frequency_hz / order - mains->frequency_hz);
    if (off_hz < OUT_OF_STEP_HZ + 4.0 * mains->u_frequency_hz)
        return;
    findings->scout.hum_order = 0;
    if (isnan(findings->from_s))
        findings->signal.words[0] = '\0';
}

bool lds_channel_pass_finish(struct lds_channel_pass *pass, struct lds_findings *findings)
{
    findings->seconds = pass->shape->seconds;
    findings->offset = pass->offset;
    lds_cascade_finish(pass->cascade, &findings->density);
    findings->audio = pass->shape->plan->audio;
    if (!lds_health_finish(pass->health, &findings->health))
        return false;
    lds_bursts_finish(pass->bursts, &findings->bursts);
    if (pass->tracker) {
        if (!lds_tracker_finish(pass->tracker, lds_cascade_audio_start_s(pass->cascade), &findings->track))
            return false;
    }
    if (pass->zoom && !lds_zoom_finish(pass->zoom, &findings->zoom))
        return false;
    if (!recognise(pass, findings) || (findings->has_tone && !gather_harmonics(pass, findings)))
        return false;
    if (pass->popcorn && !lds_popcorn_finish(pass->popcorn, &findings->popcorn))
        return false;
    if (!lds_mains_finish(pass->mains, &findings->density, &findings->mains))
        return false;
    settle_hum(findings);
    if (!lds_known_lines_find(findings))
        return false;
    /* Both tones were needed to find the lines; from here on "tone" means a single one. */
    if (findings->signal.kind == LDS_SIGNAL_TWO_TONE)
        findings->has_tone = false;
    return true;
}

bool lds_channel_pass_wander(struct lds_channel_pass *pass, struct lds_findings *findings)
{
    return !findings->has_tone ||
           lds_tracker_wander(pass->tracker, lds_cascade_audio_start_s(pass->cascade), &findings->track);
}

void lds_findings_free(struct lds_findings *findings)
{
    free(findings->health.problem);
    lds_track_free(&findings->track);
    free(findings->harmonic);
    lds_spur_list_free(&findings->spurs);
    lds_beside_tone_free(&findings->beside);
    lds_density_free(&findings->zoom.density);
    free(findings->lines.line);
    lds_floor_free(&findings->floor);
    lds_density_free(&findings->density);
    memset(findings, 0, sizeof *findings);
}
