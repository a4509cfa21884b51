#include "measure/known/sweep_bands.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "large.h"
#include "spectrum/decimate.h"

static const double LOWEST_RATE_HZ = 10e3; /* of a band */
static const double PASSBAND = 0.4;        /* of the decimators, share of the rate */
/* Bands overlap, so that their edges do not show in the part that is used. */
static const double UP_FROM = 1.05, UP_TO = 1.15, DOWN_FROM = 0.94, DOWN_TO = 0.84;
/* Of the first frequency: a sweep that begins lower is meant to show slower things. */
static const double LOWEST_CYCLES = 10.0;
static const double LONGEST_CYCLES = 1250; /* of the lowest frequency of a band */
static const double SHORT_S = 0.1;         /* but no part is shorter than this */
enum { CHUNK = 4096, FEW_TIMES = 8 /* with at least this ratio of rates there is one more band between */ };

double lds_sweep_length_s(const struct lds_signal_spec *spec)
{
    return spec->seconds / log(spec->frequency_hz[1] / spec->frequency_hz[0]);
}

double lds_sweep_rise(double x, double from, double to)
{
    return x <= from ? 0.0 : x >= to ? 1.0 : 0.5 - 0.5 * cos(M_PI * (x - from) / (to - from));
}

double lds_sweep_band_edges(const struct lds_sweep_band *band, double hz)
{
    const double low = band->low_hz, high = band->high_hz;
    const double up = low > 0.0 ? lds_sweep_rise(hz, DOWN_TO * low, DOWN_FROM * low) : 1.0;
    return isfinite(high) ? up * (1.0 - lds_sweep_rise(hz, UP_FROM * high, UP_TO * high)) : up;
}

/* ---- which bands ---- */

/* Bands that hold no part of the sweep and none of its harmonics are left out. */
static void choose(struct lds_sweep_bands *bands, double rate_hz)
{
    const double *hz = bands->spec->frequency_hz;
    const double lowest_s = fmax(fmin(LOWEST_CYCLES / hz[0], 0.5 * bands->spec->seconds), LDS_SWEEP_LONGEST_S);
    int lowest = 0, shift[LDS_SWEEP_BANDS];
    size_t count = 0;
    while (rate_hz / ldexp(2.0, lowest) >= LOWEST_RATE_HZ)
        lowest++;
    if (lowest > 0)
        shift[count++] = lowest;
    if (1 << lowest >= FEW_TIMES)
        shift[count++] = lowest / 2;
    shift[count++] = 0;
    for (size_t i = 0; i < count; i++) {
        const double band_hz = rate_hz / ldexp(1.0, shift[i]);
        const double high_hz = i + 1 < count ? PASSBAND / UP_TO * band_hz : (double)INFINITY;
        if (high_hz < 2.0 * hz[0])
            continue;
        const double low_hz = bands->count > 0 ? bands->band[bands->count - 1].high_hz : 0.0;
        if (DOWN_TO * low_hz > LDS_ORDERS_LAST * hz[1]) {
            bands->band[bands->count - 1].high_hz = INFINITY;
            break;
        }
        bands->band[bands->count++] = (struct lds_sweep_band){
            .shift = shift[i],
            .rate_hz = band_hz,
            .low_hz = low_hz,
            .high_hz = high_hz,
            .longest_s = low_hz > 0.0 ? fmin(fmax(LONGEST_CYCLES / low_hz, SHORT_S), LDS_SWEEP_LONGEST_S) : lowest_s};
    }
}

/* The frames of the stretch that a band needs: from the time of the fundamental whose highest order is the band's
 * lowest frequency, to the time of its highest frequency, with room for the parts that are cut from the impulse
 * response and for those that give the noise. */
static void choose_times(const struct lds_sweep_bands *bands, struct lds_sweep_band *band,
                         const struct lds_stretch *stretch, const struct lds_known *known, double *from, double *to)
{
    const struct lds_signal_spec *spec = bands->spec;
    const double *hz = spec->frequency_hz, second = lds_known_frames(known, stretch->rate_hz);
    const double lowest = DOWN_FROM * band->low_hz / LDS_ORDERS_LAST;
    const double begin_s =
        lds_sweep_time(spec, fmin(fmax(lowest, hz[0]), hz[1])) - 0.25 * band->longest_s - LDS_SWEEP_FADE_S;
    const double end_s =
        lds_sweep_time(spec, fmin(UP_TO * band->high_hz, hz[1])) + 4.75 * band->longest_s + LDS_SWEEP_FADE_S;
    const double length_s = (spec->repeats - 1) * spec->seconds, whole = (double)stretch->n;
    const double start = known->begin - stretch->first;
    *from = lowest > hz[0] ? fmax(start + begin_s * second, 0.0) : 0.0;
    *to = fmin(start + (end_s + length_s) * second, whole);
    band->fades_in = *from > 0.0;
    band->fades_out = *to < whole;
    /* At frequency f the end of the sweep shows L ln(to/f) later than its place. */
    band->ends = hz[1] > DOWN_TO * band->low_hz &&
                 !(lds_sweep_length_s(spec) * log(hz[1] / (UP_TO * band->high_hz)) > 1.5 * band->longest_s);
}

/* Zeros put before a stream, so that its first sample after decimation is not later than its first sample before. */
static size_t padding(const struct lds_decimator *decimator, int stages)
{
    const size_t delay = lds_decimator_delay(decimator), step = (size_t)1 << stages;
    return (delay + step - 1) / step * step;
}

/* Goes from the highest band down, since each is decimated from the stream of the one above. */
bool lds_sweep_bands_make(struct lds_sweep_bands *bands, const struct lds_stretch *stretch,
                          const struct lds_known *known)
{
    double at = 0.0, longest = 0.0; /* frame of the stretch at which a stream begins; samples of a part */
    int shift = 0;
    *bands = (struct lds_sweep_bands){.spec = known->spec, .frames = stretch->n};
    choose(bands, stretch->rate_hz);
    for (size_t i = bands->count; i-- > 0;) {
        struct lds_sweep_band *band = &bands->band[i];
        const int stages = band->shift - shift;
        if (stages > 0) {
            struct lds_decimator *decimator = lds_decimator_new(stages, PASSBAND, CHUNK);
            if (!decimator)
                return false;
            at -= ldexp((double)(padding(decimator, stages) - lds_decimator_delay(decimator)), shift);
            lds_decimator_free(decimator);
        }
        shift = band->shift;
        double from, to;
        const double step = ldexp(1.0, shift);
        choose_times(bands, band, stretch, known, &from, &to);
        band->first = (size_t)ceil((from - at) / step);
        band->samples = (size_t)fmax(floor((to - at) / step) - (double)band->first, 2.0);
        band->begin = stretch->first + at + step * (double)band->first;
        band->n = lds_fft_length(band->samples);
        longest = fmax(longest, LDS_SWEEP_PART_MOST * band->longest_s * band->rate_hz);
    }
    bands->part_n = lds_fft_length((size_t)longest);
    return true;
}

static fftw_plan plan(size_t n)
{
    double *x = malloc((n + 2) * sizeof *x);
    fftw_plan made = x ? lds_fft_real((int)n, x, (double complex *)x) : NULL;
    free(x);
    return made;
}

bool lds_sweep_bands_plan(struct lds_sweep_bands *bands)
{
    bands->part_plan = plan(bands->part_n);
    bool memory = bands->part_plan;
    for (size_t i = 0; memory && i < bands->count; i++)
        memory = (bands->band[i].plan = plan(bands->band[i].n)) != NULL;
    return memory;
}

void lds_sweep_bands_free(struct lds_sweep_bands *bands)
{
    for (size_t i = 0; i < bands->count; i++)
        lds_fft_free(bands->band[i].plan);
    lds_fft_free(bands->part_plan);
    *bands = (struct lds_sweep_bands){0};
}

/* ---- the samples ---- */

size_t lds_sweep_band_room(const struct lds_sweep_band *band)
{
    return band->n + 2;
}

void lds_sweep_band_transform(const struct lds_sweep_band *band, double *x)
{
    const size_t edge = (size_t)fmin(LDS_SWEEP_FADE_S * band->rate_hz, 0.5 * (double)band->samples);
    for (size_t i = 0; i < edge; i++) {
        const double w = 0.5 - 0.5 * cos(M_PI * ((double)i + 0.5) / (double)edge);
        x[i] *= band->fades_in ? w : 1.0;
        x[band->samples - 1 - i] *= band->fades_out ? w : 1.0;
    }
    memset(x + band->samples, 0, (band->n - band->samples) * sizeof *x);
    lds_fft_again(band->plan, x);
}

static double mean_of(const double *x, size_t n)
{
    double sum = 0.0;
    for (size_t i = 0; i < n; i++)
        sum += x[i];
    return sum / (double)n;
}

struct stream {
    const double *x; /* an offset is subtracted from it, which would be a step at both ends */
    size_t n;
    double offset;
};

/* Pushes `count` samples: those of a stream, and the zeros around it. */
static void push(struct lds_decimator *decimator, const struct stream *in, size_t count, double *out, size_t room,
                 size_t *done)
{
    double chunk[CHUNK] = {0};
    for (size_t at = 0; at < count; at += CHUNK) {
        const size_t part = count - at < CHUNK ? count - at : CHUNK;
        const double *made;
        size_t produced;
        for (size_t i = 0; in && i < part; i++)
            chunk[i] = in->x[at + i] - in->offset;
        lds_decimator_push(decimator, chunk, part, &made, &produced);
        produced = produced < room - *done ? produced : room - *done;
        memcpy(out + *done, made, produced * sizeof *out);
        *done += produced;
    }
}

/* The whole of a stream at a lower rate. x NULL: no memory. */
static struct stream decimate(const struct stream *in, int stages)
{
    struct lds_decimator *decimator = lds_decimator_new(stages, PASSBAND, CHUNK);
    const size_t pad = decimator ? padding(decimator, stages) : 0, room = ((in->n + pad) >> stages) + 1;
    double *out = decimator ? lds_large(room * sizeof *out) : NULL;
    size_t n = 0;
    if (out) {
        push(decimator, NULL, pad, out, room, &n);
        push(decimator, in, in->n, out, room, &n);
        push(decimator, NULL, 2 * pad + CHUNK, out, room, &n);
    }
    lds_decimator_free(decimator);
    return (struct stream){out, n, 0.0};
}

static void copy(const struct lds_sweep_band *band, const struct stream *in, double *x)
{
    const size_t there = band->first < in->n ? in->n - band->first : 0,
                 n = there < band->samples ? there : band->samples;
    memmove(x, in->x + band->first, n * sizeof *x);
    for (size_t i = 0; i < n; i++)
        x[i] -= in->offset;
    memset(x + n, 0, (band->samples - n) * sizeof *x);
}

/* Makes the streams of the bands, from the highest, whose stream may be the stretch itself, down. */
static bool make_streams(const struct lds_sweep_bands *bands, const struct lds_stretch *stretch, struct stream *stream)
{
    struct stream above = {stretch->x, stretch->n, mean_of(stretch->x, stretch->n)};
    int shift = 0;
    for (size_t i = bands->count; i-- > 0;) {
        const int stages = bands->band[i].shift - shift;
        stream[i] = above;
        if (stages > 0)
            stream[i] = decimate(&above, stages);
        if (!stream[i].x)
            return false;
        above = stream[i];
        shift += stages;
    }
    return true;
}

bool lds_sweep_spectra_make(struct lds_sweep_spectra *spectra, const struct lds_sweep_bands *bands,
                            const struct lds_stretch *stretch, double *memory, size_t room)
{
    struct stream stream[LDS_SWEEP_BANDS] = {0};
    size_t needed = 0, most = 0;
    for (size_t i = 0; i < bands->count; i++) {
        const size_t one = lds_sweep_band_room(&bands->band[i]);
        needed += one;
        most = one > most ? one : most;
    }
    if (needed + most > room)
        memory = spectra->own = lds_large((needed + most) * sizeof *memory);
    bool made = memory && make_streams(bands, stretch, stream);
    for (size_t i = bands->count; made && i-- > 0;) { /* the stretch may lie where the first spectrum goes */
        copy(&bands->band[i], &stream[i], memory);
        lds_sweep_band_transform(&bands->band[i], memory);
        spectra->of[i] = (double complex *)memory;
        memory += lds_sweep_band_room(&bands->band[i]);
    }
    spectra->scratch = memory;
    for (size_t i = 0; i < bands->count; i++)
        if (stream[i].x != stretch->x)
            free((double *)stream[i].x);
    return made;
}

void lds_sweep_spectra_free(struct lds_sweep_spectra *spectra)
{
    free(spectra->own);
    *spectra = (struct lds_sweep_spectra){0};
}
