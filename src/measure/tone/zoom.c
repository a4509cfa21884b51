#include "measure/tone/zoom.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "measure/tone/zoom_segment.h"
#include "spectrum/fft.h"
#include "spectrum/sliding.h"
#include "spectrum/welch.h"
#include "spectrum/window.h"

/* Of each frame, POINTS bins about the tone: those within FLAT of it whole, beyond less, and none from NONE on. A frame
 * becomes POINTS samples, and frames follow each other by a quarter. */
enum { POINTS = 128, HOP = POINTS / 4, FLAT = 40, NONE = 60 };
/* Where the windows about a moment, squared, add up to less, at the ends of the capture, the stream is not known. */
static const double LEAST_COVER = 0.002;
static const double LONGEST_S = 8.0; /* of a segment: the lobe then ends 0.9 Hz from the tone */
/* Shorter segments have lines 2 Hz from the tone within its lobe and a line's. */
static const double CLOSE_S = 5.0;
enum { SHORTEST = 128, OVERLAP = 4, PAD_BINS = 128 };
static const double PAD_HZ = 12.0;

struct lds_zoom {
    double rate_hz; /* of the slow stream */
    double gain;    /* from a sum over bins to the peak of a sine */
    int centre;     /* bin of the level that becomes 0 Hz */
    double offset;  /* cycles a sample at which the tone is expected from there */
    int half;       /* n/2 of the level */
    int frames;
    double window[POINTS], taper[POINTS];
    double complex *points; /* POINTS, for the transform */
    fftw_plan back;
    double complex sum[POINTS]; /* samples of the frames so far, windowed twice, from the next one to be passed on */
    double cover[POINTS];       /* and the windows squared */
    size_t length, hop;         /* of a segment */
    struct lds_zoom_segment segment;
    struct lds_sliding sliding;
    double *buffer;
    double *power; /* length: sums of |X|^2, from the tone on and round */
    int segments;
};

/* As many segments as a step of a quarter needs, evenly over the stream. */
static void divide(struct lds_zoom *z, size_t total)
{
    size_t longest = (size_t)(LONGEST_S * z->rate_hz);
    z->length = total < longest ? total : longest;
    z->length -= z->length % 2;
    size_t left = total - z->length, steps = (left + z->length / OVERLAP - 1) / (z->length / OVERLAP);
    if (left < z->length / (2 * OVERLAP))
        steps = 0;
    z->hop = steps ? left / steps : z->length;
}

static bool allocate(struct lds_zoom *z)
{
    z->points = (double complex *)fftw_alloc_complex(POINTS);
    z->buffer = malloc(4 * z->length * sizeof *z->buffer);
    z->power = calloc(z->length, sizeof *z->power);
    if (!z->points || !z->buffer || !z->power)
        return false;
    z->back = lds_fft_complex(POINTS, z->points, FFTW_BACKWARD);
    return z->back && lds_zoom_segment_init(&z->segment, z->length, (double)z->length < CLOSE_S * z->rate_hz);
}

bool lds_zoom_new(const struct lds_plan_level *level, double seconds, double tone_hz, struct lds_zoom **zoom)
{
    *zoom = NULL;
    double bin_hz = level->rate_hz / level->n;
    int frames = (int)floor((seconds * level->rate_hz - level->n) / level->hop - 0.5) + 1;
    if (level->n < 2 * POINTS || level->hop != level->n / 4 || frames < 4)
        return true;
    struct lds_zoom *z = calloc(1, sizeof *z);
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
        lds_zoom_free(z);
        return false;
    }
    lds_sliding_init(&z->sliding, z->buffer, 2 * z->length, 2 * z->hop);
    *zoom = z;
    return true;
}

void lds_zoom_free(struct lds_zoom *zoom)
{
    if (!zoom)
        return;
    lds_fft_free(zoom->back);
    fftw_free(zoom->points);
    lds_zoom_segment_free(&zoom->segment);
    free(zoom->buffer);
    free(zoom->power);
    free(zoom);
}

/* ---- the stream ---- */

/* Passes on the next `count` samples, which no later frame touches. */
static void pass_on(struct lds_zoom *z, int count)
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

/* Bin b of a real signal's transform; none beyond half the rate. */
static double complex bin_at(const double complex *spectrum, int half, int b)
{
    if (abs(b) > half)
        return 0.0;
    return b < 0 ? conj(spectrum[-b]) : spectrum[b];
}

void lds_zoom_frame(struct lds_zoom *zoom, const double complex *spectrum)
{
    struct lds_zoom *z = zoom;
    /* A frame's phases count from its own beginning, a quarter of its length after the last one's: bin b has turned by
     * b quarters. */
    static const double complex quarter[4] = {1.0, I, -1.0, -I};
    double complex turned = z->gain * conj(quarter[(long)z->frames * z->centre % 4]);
    for (int i = 0; i < POINTS; i++) {
        int away = i - POINTS / 2;
        z->points[away < 0 ? away + POINTS : away] =
            z->taper[i] > 0.0 ? z->taper[i] * turned * bin_at(spectrum, z->half, z->centre + away) : 0.0;
    }
    fftw_execute(z->back);
    /* What the limit of the bins cut off a strong line farther away does not end with its frame: it is windowed again,
     * so that the frames' edges make no images of it. */
    for (int i = 0; i < POINTS; i++) {
        z->sum[i] += z->window[i] * z->points[i];
        z->cover[i] += z->window[i] * z->window[i];
    }
    z->frames++;
    pass_on(z, HOP);
}

/* One-sided density of the real signal: half of the complex stream's, whose samples are peak values. */
bool lds_zoom_finish(struct lds_zoom *zoom, struct lds_zoom_spectrum *spectrum)
{
    struct lds_zoom *z = zoom;
    memset(spectrum, 0, sizeof *spectrum);
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
