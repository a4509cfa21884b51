#include "measure/impedance/phasors.h"

#include <complex.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "fail.h"
#include "grow.h"
#include "measure/statistics/median.h"
#include "measure/tone/envelope.h"
#include "spectrum/density.h"

enum {
    CHUNK = 1 << 14,
    FRAMES_MAX = 1 << 15,
    STEPS = 8 /* in a frame, so that the frames together weigh all samples evenly */
};
static const double FRAME_S = 0.05;
static const double THERE = 0.1;  /* of the usual level; below it the tone is not there */
static const double USUAL = 0.75; /* this share of the frames is weaker than the usual level */
static const double SILENT = 1e-12;

static bool keep(void *context, double complex value)
{
    struct lds_phasors *p = context;
    if (p->count == p->room) {
        const size_t room = p->room ? 2 * p->room : 1024;
        if (!lds_resize(&p->level, room, sizeof *p->level) || !lds_resize(&p->phase, room, sizeof *p->phase))
            return false;
        p->room = room;
    }
    p->level[p->count] = log(fmax(cabs(value), SILENT));
    p->phase[p->count++] = carg(value);
    return true;
}

static double wrap(double x)
{
    return x - 2.0 * M_PI * rint(x / (2.0 * M_PI));
}

/* Where the tone is missing its level is not known, nor in the frames that overlap such a place. */
static bool mark_missing(struct lds_phasors *p)
{
    double *sorted = malloc(p->count * sizeof *sorted);
    bool *missing = calloc(p->count, sizeof *missing);
    const bool memory = sorted && missing;
    if (memory) {
        memcpy(sorted, p->level, p->count * sizeof *sorted);
        const double least = lds_smallest(sorted, p->count, (size_t)(USUAL * (double)(p->count - 1))) + log(THERE);
        for (size_t i = 0; i < p->count; i++)
            for (size_t k = i >= STEPS ? i - STEPS : 0; p->level[i] < least && k <= i + STEPS && k < p->count; k++)
                missing[k] = true;
        for (size_t i = 0; i < p->count; i++)
            p->level[i] = missing[i] ? (double)NAN : p->level[i];
    }
    free(sorted);
    free(missing);
    return memory;
}

/* Takes out the usual phase step from frame to frame, and unwraps what is left. */
static bool straighten(struct lds_phasors *p)
{
    double *turn = malloc(p->count * sizeof *turn), before = NAN;
    size_t turns = 0;
    if (!turn)
        return false;
    for (size_t i = 1; i < p->count; i++)
        if (!isnan(p->level[i]) && !isnan(p->level[i - 1]))
            turn[turns++] = wrap(p->phase[i] - p->phase[i - 1]);
    const double usual = turns > 0 ? lds_median(turn, turns) : 0.0;
    for (size_t i = 0; i < p->count; i++) {
        const double phase = p->phase[i] - usual * (double)i;
        p->phase[i] = isnan(before) ? wrap(phase) : before + wrap(phase - before);
        before = isnan(p->level[i]) ? before : p->phase[i];
    }
    free(turn);
    return true;
}

static enum lds_status read_all(struct lds_capture *capture, int channel, struct lds_envelope *envelope,
                                struct lds_phasors *p, struct lds_error *error)
{
    const int channels = lds_capture_info(capture)->channels;
    double *block = malloc(((size_t)channels + 1) * CHUNK * sizeof *block);
    enum lds_status status =
        block ? lds_capture_seek(capture, 0, error) : lds_fail_memory(error, "the level of the tone");
    for (int64_t got = 1; !status && got > 0;) {
        double *x = block + (size_t)channels * CHUNK;
        status = lds_capture_read(capture, block, CHUNK, &got, error);
        for (int64_t i = 0; !status && i < got; i++)
            x[i] = block[i * channels + channel];
        if (!status && !lds_envelope_push(envelope, x, (size_t)got, keep, p))
            status = lds_fail_memory(error, "the level of the tone");
    }
    free(block);
    return status;
}

enum lds_status lds_phasors_read(struct lds_capture *capture, int channel, double tone_hz, struct lds_phasors *phasors,
                                 struct lds_error *error)
{
    const struct lds_capture_info *info = lds_capture_info(capture);
    const double seconds = (double)info->frames / info->rate_hz;
    const double frame_s = fmax(fmax(FRAME_S, (LDS_LOBE_BINS + 0.5) / tone_hz), seconds * STEPS / FRAMES_MAX);
    const size_t hop = (size_t)ceil(frame_s * info->rate_hz / STEPS), n = hop * STEPS;
    struct lds_envelope envelope;
    *phasors = (struct lds_phasors){.first_s = 0.5 * (double)n / info->rate_hz,
                                    .step_s = (double)hop / info->rate_hz,
                                    .frame_s = (double)n / info->rate_hz};
    enum lds_status status = lds_envelope_init(&envelope, info->rate_hz, tone_hz, n, hop)
                                 ? read_all(capture, channel, &envelope, phasors, error)
                                 : lds_fail_memory(error, "the level of the tone");
    if (!status && phasors->count > 0 && !(mark_missing(phasors) && straighten(phasors)))
        status = lds_fail_memory(error, "the level of the tone");
    lds_envelope_free(&envelope);
    return status;
}

void lds_phasors_free(struct lds_phasors *phasors)
{
    free(phasors->level);
    free(phasors->phase);
    *phasors = (struct lds_phasors){0};
}

double lds_phasors_time(const struct lds_phasors *phasors, double frame)
{
    return phasors->first_s + frame * phasors->step_s;
}
