#include "spectrum/cascade.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "spectrum/decimate.h"
#include "spectrum/fft.h"
#include "spectrum/simd.h"
#include "spectrum/sliding.h"
#include "spectrum/welch.h"
#include "spectrum/window.h"

/* The frames of one level: a sliding buffer, and the sums of |X|^2 in each eighth of the capture. */
struct framer {
    int index; /* of the level in the plan */
    const struct lds_plan_level *level;
    struct lds_sliding sliding;
    double *power; /* for the average over all frames */
    double *sum[LDS_BLOCKS];
    int count[LDS_BLOCKS];
    int frames;
    double start_s; /* time of the stream's first sample */
};

/* A stream: the raw samples, or the output of the decimators so far. */
struct stream {
    struct lds_decimator *decimator; /* from the previous stream; NULL for the raw one */
    struct framer *framer;           /* NULL: the stream only goes to the listener */
    int shift;
    bool is_audio, is_slow;
    double start_s;
};

struct lds_cascade {
    const struct lds_plan *plan;
    struct lds_listener listener;
    double seconds;
    int streams;
    struct stream stream[LDS_LEVELS_MAX + 2];
    struct framer framer[LDS_LEVELS_MAX];
    double *windowed;         /* the frame at work, of a level that is not transformed in place */
    double complex *spectrum; /* its transform */
    struct lds_store store;
};

/* How many bytes of the store a level's frames and averages need. */
static size_t framer_room(const struct lds_plan_level *level)
{
    size_t n = (size_t)level->n, bins = n / 2 + 1;
    return lds_store_room(2 * n * sizeof(double)) + (LDS_BLOCKS + 1) * lds_store_room(bins * sizeof(double));
}

static bool framer_init(struct framer *framer, struct lds_store *store, int index, const struct lds_plan_level *level,
                        double start_s)
{
    size_t n = (size_t)level->n, bins = n / 2 + 1;
    framer->index = index;
    framer->level = level;
    framer->start_s = start_s;
    double *buffer = lds_store_take(store, 2 * n * sizeof *buffer);
    lds_sliding_init(&framer->sliding, buffer, n, (size_t)level->hop);
    framer->power = lds_store_take(store, bins * sizeof *framer->power);
    for (int b = 0; b < LDS_BLOCKS; b++)
        framer->sum[b] = lds_store_take(store, bins * sizeof *framer->sum[b]);
    return framer->sum[LDS_BLOCKS - 1] != NULL;
}

/* Adds the next slower stream, at rate_hz / 2^shift. */
static bool stream_add(struct lds_cascade *c, int shift)
{
    const struct lds_plan *plan = c->plan;
    struct stream *s = &c->stream[c->streams];
    if (c->streams > 0) {
        const struct stream *above = s - 1;
        s->decimator = lds_decimator_new(shift - above->shift, 0.4, (size_t)(LDS_CHUNK >> above->shift) + 2);
        if (!s->decimator)
            return false;
        double rate_hz = ldexp(plan->rate_hz, -above->shift);
        s->start_s = above->start_s + (double)lds_decimator_delay(s->decimator) / rate_hz;
    }
    c->streams++;
    s->shift = shift;
    s->is_slow = shift == plan->slow_shift;
    s->is_audio = shift == plan->level[plan->audio].shift;
    for (int i = 0; i < plan->levels; i++)
        if (plan->level[i].shift == shift) {
            s->framer = &c->framer[i];
            return framer_init(s->framer, &c->store, i, &plan->level[i], s->start_s);
        }
    return true;
}

/* From the fastest level to the slowest, then the slow stream where no level has its rate. */
static bool streams_make(struct lds_cascade *c)
{
    for (int i = c->plan->levels - 1; i >= 0; i--)
        if (!stream_add(c, c->plan->level[i].shift))
            return false;
    return c->stream[c->streams - 1].is_slow || stream_add(c, c->plan->slow_shift);
}

/* Room for all levels, and for one frame of the longest. */
static bool store_make(struct lds_cascade *c)
{
    size_t room = 0, longest = 0;
    for (int i = 0; i < c->plan->levels; i++) {
        const size_t n = (size_t)c->plan->level[i].n;
        room += framer_room(&c->plan->level[i]);
        longest = n > longest ? n : longest;
    }
    const size_t samples = longest * sizeof *c->windowed, bins = (longest / 2 + 1) * sizeof *c->spectrum;
    lds_store_init(&c->store, room + lds_store_room(samples) + lds_store_room(bins));
    c->windowed = lds_store_take(&c->store, samples);
    c->spectrum = lds_store_take(&c->store, bins);
    return c->spectrum != NULL;
}

struct lds_cascade *lds_cascade_new(const struct lds_plan *plan, const struct lds_listener *listener)
{
    struct lds_cascade *c = calloc(1, sizeof *c);
    if (!c)
        return NULL;
    c->plan = plan;
    c->listener = *listener;
    c->seconds = (double)plan->frames / plan->rate_hz;
    if (!store_make(c) || !streams_make(c)) {
        lds_cascade_free(c);
        return NULL;
    }
    return c;
}

void lds_cascade_free(struct lds_cascade *cascade)
{
    if (!cascade)
        return;
    for (int i = 0; i < cascade->streams; i++)
        lds_decimator_free(cascade->stream[i].decimator);
    lds_store_free(&cascade->store);
    free(cascade);
}

LDS_HOT static void multiply(const double *restrict x, const double *restrict w, double *restrict out, size_t n)
{
    for (size_t i = 0; i < n; i++)
        out[i] = x[i] * w[i];
}

LDS_HOT static void add_power(const double *restrict spectrum, double *restrict sum, size_t bins)
{
    for (size_t i = 0; i < bins; i++)
        sum[i] += spectrum[2 * i] * spectrum[2 * i] + spectrum[2 * i + 1] * spectrum[2 * i + 1];
}

static void frame_done(struct lds_cascade *c, struct framer *f, const double *x)
{
    const struct lds_plan_level *level = f->level;
    size_t n = (size_t)level->n;
    double *windowed = lds_fft_best_in_place(level->n) ? (double *)c->spectrum : c->windowed;
    multiply(x, level->window, windowed, n);
    fftw_execute_dft_r2c(level->fft, windowed, (fftw_complex *)c->spectrum);
    double centre_s = f->start_s + ((double)f->frames * level->hop + 0.5 * level->n) / level->rate_hz;
    int block = (int)(LDS_BLOCKS * centre_s / c->seconds);
    block = block < LDS_BLOCKS ? block : LDS_BLOCKS - 1;
    add_power((const double *)c->spectrum, f->sum[block], n / 2 + 1);
    f->count[block]++;
    if (c->listener.frame) {
        struct lds_frame frame = {f->index, f->frames, centre_s, c->spectrum};
        c->listener.frame(c->listener.context, &frame);
    }
    f->frames++;
}

static void framer_push(struct lds_cascade *c, struct framer *f, const double *x, size_t n)
{
    while (n > 0) {
        size_t taken;
        const double *window = lds_sliding_push(&f->sliding, x, n, &taken);
        if (window)
            frame_done(c, f, window);
        x += taken;
        n -= taken;
    }
}

static void push_chunk(struct lds_cascade *c, const double *x, size_t n)
{
    for (int i = 0; i < c->streams && n > 0; i++) {
        struct stream *s = &c->stream[i];
        if (s->decimator)
            lds_decimator_push(s->decimator, x, n, &x, &n);
        if (n == 0)
            return;
        if (s->framer)
            framer_push(c, s->framer, x, n);
        if (s->is_audio && c->listener.audio)
            c->listener.audio(c->listener.context, x, n);
        if (s->is_slow && c->listener.slow)
            c->listener.slow(c->listener.context, x, n);
    }
}

void lds_cascade_push(struct lds_cascade *cascade, const double *x, size_t n)
{
    while (n > 0) {
        size_t take = n < LDS_CHUNK ? n : LDS_CHUNK;
        push_chunk(cascade, x, take);
        x += take;
        n -= take;
    }
}

double lds_cascade_audio_start_s(const struct lds_cascade *cascade)
{
    for (int i = 0; i < cascade->streams; i++)
        if (cascade->stream[i].is_audio)
            return cascade->stream[i].start_s;
    return 0.0;
}

double lds_cascade_slow_start_s(const struct lds_cascade *cascade)
{
    return cascade->stream[cascade->streams - 1].start_s;
}

/* One-sided density: 2 |X|^2 / (fs sum w^2) (Heinzel 2002 eq. 23, Troebs and Heinzel 2006 eq. 29); half of it at DC and
 * at half the rate. Blocks become means; the average over all frames is their weighted mean. */
static void level_finish(struct framer *f, struct lds_level *level)
{
    const struct lds_plan_level *p = f->level;
    size_t bins = (size_t)p->n / 2 + 1;
    level->rate_hz = p->rate_hz;
    level->n = p->n;
    level->hop = p->hop;
    level->bin_hz = p->rate_hz / p->n;
    level->first = p->low_hz > 0.0 ? (int)ceil(p->low_hz / level->bin_hz - 0.5) : 0;
    level->last = (int)ceil(p->high_hz / level->bin_hz - 0.5);
    level->frames = f->frames;
    level->enbw_bins = lds_window_enbw(&lds_window_analysis);
    level->power = f->power;
    double s2 = 0.0;
    for (int i = 0; i < p->n; i++)
        s2 += p->window[i] * p->window[i];
    for (int b = 0; b < LDS_BLOCKS; b++) {
        level->block[b] = f->sum[b];
        level->block_frames[b] = f->count[b];
        double scale = 2.0 / (p->rate_hz * s2);
        for (size_t i = 0; i < bins; i++) {
            double sum = level->block[b][i] * (i == 0 || i == bins - 1 ? 0.5 * scale : scale);
            level->power[i] += f->frames ? sum / f->frames : 0.0;
            level->block[b][i] = f->count[b] ? sum / f->count[b] : 0.0;
        }
    }
    struct lds_welch welch;
    lds_welch_statistics(p->window, p->n, p->hop, p->rate_hz, f->frames, &welch);
    level->bin_dof = welch.bin_dof;
    level->band_dof = welch.band_dof;
    level->line_noise = welch.line_noise;
}

void lds_cascade_finish(struct lds_cascade *cascade, struct lds_density *density)
{
    memset(density, 0, sizeof *density);
    density->seconds = cascade->seconds;
    density->end_hz = cascade->plan->end_hz;
    density->levels = cascade->plan->levels;
    density->store = cascade->store;
    cascade->store = (struct lds_store){0};
    for (int i = 0; i < density->levels; i++)
        level_finish(&cascade->framer[i], &density->level[i]);
}

void lds_density_free(struct lds_density *density)
{
    lds_store_free(&density->store);
    memset(density, 0, sizeof *density);
}

const struct lds_level *lds_density_level(const struct lds_density *density, double frequency_hz)
{
    for (int i = 0; i < density->levels; i++)
        if (frequency_hz < (density->level[i].last - 0.5) * density->level[i].bin_hz)
            return &density->level[i];
    return &density->level[density->levels - 1];
}
