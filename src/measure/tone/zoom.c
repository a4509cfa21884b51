#include "measure/tone/zoom.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "measure/analyser.h"
#include "measure/tone/zoom_segment.h"
#include "spectrum/fft.h"
#include "spectrum/sliding.h"
#include "spectrum/welch.h"
#include "spectrum/window.h"

/* Of each frame POINTS bins around the tone are used: those within FLAT of it in full, beyond with falling weight, none
 * from NONE on. A frame becomes POINTS samples; frames step by a quarter. */
enum { POINTS = 128, HOP = POINTS / 4, FLAT = 40, NONE = 60 };
/* At the ends of the capture the squared windows over a sample may add up to less; the stream is not known there. */
static const double LEAST_COVER = 0.002;
static const double LONGEST_S = 8.0; /* of a segment: its lobe then ends 0.9 Hz from the tone */
/* In shorter segments the lobe of a line 2 Hz away overlaps the tone's. */
static const double CLOSE_S = 5.0;
enum { SHORTEST = 128, OVERLAP = 4, PAD_BINS = 128 };
static const double PAD_HZ = 12.0;

struct zoom {
    double rate_hz; /* of the slow stream */
    double gain;    /* from a sum over bins to the peak of a sine */
    int centre;     /* bin of the level that becomes 0 Hz */
    double offset;  /* expected position of the tone from there, in cycles a sample */
    int half;       /* n/2 of the level */
    int frames;
    double window[POINTS], taper[POINTS];
    double complex *points; /* POINTS, for the transform */
    fftw_plan back;
    double complex sum[POINTS]; /* overlap-add of frames, windowed twice; begins with the next sample to be passed on */
    double cover[POINTS];       /* the same of the squared windows */
    size_t length, hop;         /* of a segment */
    struct lds_zoom_segment segment;
    struct lds_sliding sliding;
    double *buffer;
    double *power; /* length: sums of |X|^2, beginning at the tone and wrapping around */
    int segments;
};

/* Spreads the segments evenly over the stream, as many as a step of a quarter needs. */
static void divide(struct zoom *z, size_t total)
{
    size_t longest = (size_t)(LONGEST_S * z->rate_hz);
    z->length = total < longest ? total : longest;
    z->length -= z->length % 2;
    size_t left = total - z->length, steps = (left + z->length / OVERLAP - 1) / (z->length / OVERLAP);
    if (left < z->length / (2 * OVERLAP))
        steps = 0;
    z->hop = steps ? left / steps : z->length;
}

static bool allocate(struct zoom *z)
{
    z->points = (double complex *)fftw_alloc_complex(POINTS);
    z->buffer = malloc(4 * z->length * sizeof *z->buffer);
    z->power = calloc(z->length, sizeof *z->power);
    if (!z->points || !z->buffer || !z->power)
        return false;
    z->back = lds_fft_complex(POINTS, z->points, FFTW_BACKWARD);
    return z->back && lds_zoom_segment_init(&z->segment, z->length, (double)z->length < CLOSE_S * z->rate_hz);
}

static void free_state(void *state)
{
    struct zoom *zoom = state;
    lds_fft_free(zoom->back);
    fftw_free(zoom->points);
    lds_zoom_segment_free(&zoom->segment);
    free(zoom->buffer);
    free(zoom->power);
    free(zoom);
}

/* *state stays NULL where the stream is too short for a segment. */
static bool make(const struct lds_findings *start, void **state)
{
    const struct lds_plan_level *level = &start->shape->plan->level[start->audio];
    double seconds = start->seconds - 2.0 * start->audio_start_s, tone_hz = start->scout.tone_hz;
    double bin_hz = level->rate_hz / level->n;
    int frames = (int)floor((seconds * level->rate_hz - level->n) / level->hop - 0.5) + 1;
    if (level->n < 2 * POINTS || level->hop != level->n / 4 || frames < 4)
        return true;
    struct zoom *z = calloc(1, sizeof *z);
    if (!z)
        return false;
    z->rate_hz = POINTS * bin_hz;
    z->centre = (int)lround(tone_hz / bin_hz);
    z->offset = (tone_hz / bin_hz - z->centre) / POINTS;
    z->half = level->n / 2;
    z->gain = 2.0 / level->n;
    lds_window_fill(&lds_window_analysis, POINTS, z->window);
    size_t ends = 0;
    while (z->window[ends] * z->window[ends] < LEAST_COVER)
        ends++;
    for (int i = 0; i < POINTS; i++) {
        int away = abs(i - POINTS / 2);
        double at = fmin(fmax((double)(away - FLAT) / (NONE - FLAT), 0.0), 1.0);
        z->taper[i] = pow(cos(0.5 * M_PI * at), 2.0);
    }
    divide(z, (size_t)(frames - 1) * HOP + POINTS - 2 * ends);
    if (z->length < SHORTEST) {
        free(z);
        return true;
    }
    if (!allocate(z)) {
        free_state(z);
        return false;
    }
    lds_sliding_init(&z->sliding, z->buffer, 2 * z->length, 2 * z->hop);
    *state = z;
    return true;
}

/* ---- the stream ---- */

/* Passes on the next `count` samples; no later frame changes them. */
static void pass_on(struct zoom *z, int count)
{
    double out[2 * POINTS];
    size_t n = 0;
    for (int i = 0; i < count; i++) {
        if (z->cover[i] < LEAST_COVER)
            continue;
        out[n++] = creal(z->sum[i]) / z->cover[i];
        out[n++] = cimag(z->sum[i]) / z->cover[i];
    }
    for (const double *from = out; n > 0;) {
        size_t taken;
        const double *segment = lds_sliding_push(&z->sliding, from, n, &taken);
        if (segment) {
            lds_zoom_segment_add(&z->segment, segment, z->offset, z->power);
            z->segments++;
        }
        from += taken;
        n -= taken;
    }
    memmove(z->sum, z->sum + count, (size_t)(POINTS - count) * sizeof z->sum[0]);
    memmove(z->cover, z->cover + count, (size_t)(POINTS - count) * sizeof z->cover[0]);
    memset(z->sum + POINTS - count, 0, (size_t)count * sizeof z->sum[0]);
    memset(z->cover + POINTS - count, 0, (size_t)count * sizeof z->cover[0]);
}

/* Bin b of a real signal's transform; 0 beyond half the rate. */
static double complex bin_at(const double complex *spectrum, int half, int b)
{
    if (abs(b) > half)
        return 0.0;
    return b < 0 ? conj(spectrum[-b]) : spectrum[b];
}

static bool push(void *state, const struct lds_frame *frame)
{
    struct zoom *z = state;
    /* The phases of a frame count from its own start, a quarter of its length after the previous one, so bin b has
     * turned by b quarters. */
    static const double complex quarter[4] = {1.0, I, -1.0, -I};
    double complex turned = z->gain * conj(quarter[(long)z->frames * z->centre % 4]);
    for (int i = 0; i < POINTS; i++) {
        int away = i - POINTS / 2;
        z->points[away < 0 ? away + POINTS : away] =
            z->taper[i] > 0.0 ? z->taper[i] * turned * bin_at(frame->spectrum, z->half, z->centre + away) : 0.0;
    }
    fftw_execute(z->back);
    /* A strong line beyond the bins used leaves a part that does not end with its frame. Windowing again keeps the
     * edges of the frames from making images of it. */
    for (int i = 0; i < POINTS; i++) {
        z->sum[i] += z->window[i] * z->points[i];
        z->cover[i] += z->window[i] * z->window[i];
    }
    z->frames++;
    pass_on(z, HOP);
    return true;
}

/* One-sided density of the real signal: half that of the complex stream, whose samples are peak values. */
static bool finish(void *state, struct lds_findings *findings)
{
    struct zoom *z = state;
    struct lds_zoom_spectrum *spectrum = &findings->zoom;
    pass_on(z, POINTS - HOP);
    if (z->segments == 0)
        return true;
    double bin_hz = z->rate_hz / (double)z->length;
    int reach = (int)(FLAT * (double)z->length / POINTS), pad = PAD_BINS + (int)ceil(PAD_HZ / bin_hz);
    size_t bins = (size_t)(2 * reach + pad + 2);
    struct lds_density *density = &spectrum->density;
    lds_store_init(&density->store, lds_store_room(bins * sizeof(double)));
    struct lds_level *level = &density->level[0];
    level->power = lds_store_take(&density->store, bins * sizeof *level->power);
    if (!level->power)
        return false;
    spectrum->centre = reach + pad;
    spectrum->reach_hz = reach * bin_hz;
    spectrum->segment_s = (double)z->length / z->rate_hz;
    double s2 = 0.0;
    for (size_t i = 0; i < z->length; i++)
        s2 += z->segment.shape[i] * z->segment.shape[i];
    for (int k = -reach; k <= reach; k++) {
        size_t at = k < 0 ? z->length - (size_t)-k : (size_t)k;
        level->power[spectrum->centre + k] = 0.5 * z->power[at] / (z->rate_hz * s2 * z->segments);
    }
    struct lds_welch welch;
    lds_welch_statistics(z->segment.shape, (int)z->length, (int)z->hop, z->rate_hz, z->segments, &welch);
    level->rate_hz = z->rate_hz;
    level->n = 2 * ((int)bins - 1);
    level->bin_hz = bin_hz;
    level->frames = z->segments;
    level->hop = (int)((double)level->n * (double)z->hop / (double)z->length);
    level->enbw_bins = lds_window_enbw(&lds_window_analysis);
    level->bin_dof = welch.bin_dof;
    level->band_dof = welch.band_dof;
    level->line_noise = welch.line_noise;
    for (int b = 0; b < LDS_BLOCKS; b++)
        level->block[b] = level->power;
    density->levels = 1;
    density->end_hz = (double)(bins - 1) * bin_hz;
    return true;
}

const struct lds_analyser lds_analyse_beside_tone = {
    .tone = LDS_WITH_TONE, .make = make, .frame = push, .finish = finish, .free = free_state};
