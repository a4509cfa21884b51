#include "measure/known/impulse.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "constants.h"
#include "spectrum/fft.h"

static const double LONGEST_S = 2.0;    /* of a part: an amplifier with a corner at 1 Hz has settled */
static const double EDGE = 0.1;         /* share of a part on each side over which it fades */
static const double SHORTEST_S = 0.05;  /* that noise is known from */
static const double PAST_ORDERS = 24.0; /* distortion of a higher order than this counts as noise */
enum { QUIET_PARTS = 2 };

/* An even length of factors 2, 3 and 5. */
static size_t good_length(size_t least)
{
    size_t best = 2;
    while (best < least)
        best *= 2;
    for (size_t five = 1; five < best; five *= 5)
        for (size_t three = five; three < best; three *= 3) {
            size_t n = 2 * three;
            while (n < least)
                n *= 2;
            best = n < best ? n : best;
        }
    return best;
}

static double length_of(const struct lds_signal_spec *spec)
{
    return spec->seconds / log(spec->frequency_hz[1] / spec->frequency_hz[0]);
}

/* ---- the inverse of the sweep ---- */

/* 0 below from, 1 above to, smooth between. */
static double rise(double x, double from, double to)
{
    return x <= from ? 0.0 : x >= to ? 1.0 : 0.5 - 0.5 * cos(M_PI * (x - from) / (to - from));
}

/* The inverse of the sweep as it was played, from below its first frequency to a little above its last. In time of the
 * recorder frequencies are lower by the ratio of the clocks. */
static void invert(struct lds_sweep_filter *filter)
{
    const struct lds_known *known = filter->known;
    const double *hz = known->spec->frequency_hz, ratio = 1.0 + 1e-6 * known->clock_ppm;
    double most = 0.0;
    for (size_t k = 0; k <= filter->n / 2; k++)
        most = fmax(most, cabs(filter->played[k]));
    for (size_t k = 0; k <= filter->n / 2; k++) {
        const double f = ratio * filter->rate_hz * (double)k / (double)filter->n;
        const double band = rise(f, 0.3 * hz[0], 0.9 * hz[0]) * (1.0 - rise(f, 1.015 * hz[1], 1.03 * hz[1]));
        const double complex x = filter->played[k];
        filter->played[k] = band * conj(x) / (fmax(creal(x * conj(x)), 1e-14 * most * most) * (double)filter->n);
    }
}

/* For harmonics: that of a sweep that never ends, whose spectrum is sqrt(L/f)/2 with the phase, in turns,
 * f L (1 - ln(f/from)) - from L - 1/8. Low down, where the beginning of the sweep shows, it is that of the sweep as it
 * was played, or the beginning of the fundamental would stand where harmonics do. */
struct endless {
    double low_hz, length_s, middle_hz, bin_hz, begin, size;
};

static struct endless endless_of(const struct lds_sweep_filter *filter)
{
    const struct lds_known *known = filter->known;
    const double *hz = known->spec->frequency_hz, ratio = 1.0 + 1e-6 * known->clock_ppm;
    const double length_s = length_of(known->spec), peak = pow(10.0, known->spec->level_dbfs / 20.0);
    return (struct endless){.low_hz = hz[0],
                            .length_s = length_s,
                            .middle_hz = sqrt(hz[0] * hz[1]),
                            .bin_hz = ratio * filter->rate_hz / (double)filter->n,
                            .begin = (known->begin - filter->first) / (double)filter->n,
                            .size = 2.0 / (peak * filter->rate_hz * ratio * (double)filter->n * sqrt(length_s))};
}

static double complex endless_inverse(const struct endless *e, double complex played, size_t k)
{
    const double f = e->bin_hz * (double)k, share = rise(f, 0.8 * e->middle_hz, 1.25 * e->middle_hz);
    if (share <= 0.0)
        return played;
    const double turns =
        e->begin * (double)k - f * e->length_s * (1.0 - log(f / e->low_hz)) + e->low_hz * e->length_s + 0.125;
    const double angle = 2.0 * M_PI * (turns - floor(turns)), size = share * e->size * sqrt(f);
    return (share < 1.0 ? (1.0 - share) * played : 0.0) + size * cos(angle) + I * (size * sin(angle));
}

size_t lds_stretch_room(size_t frames)
{
    return good_length(frames) + 2;
}

bool lds_sweep_filter_make(struct lds_sweep_filter *filter, const struct lds_stretch *stretch,
                           const struct lds_known *known)
{
    const double second = lds_known_frames(known, stretch->rate_hz);
    struct lds_signal_spec once = *known->spec;
    once.repeats = 1;
    *filter = (struct lds_sweep_filter){
        .known = known, .rate_hz = stretch->rate_hz, .first = stretch->first, .n = good_length(stretch->n)};
    struct lds_player *player = lds_player_new(&once);
    filter->played = malloc((filter->n / 2 + 1) * sizeof *filter->played);
    double *x = (double *)filter->played; /* in place */
    fftw_plan plan = x ? lds_fft_real((int)filter->n, x, filter->played) : NULL;
    const bool memory = player && plan;
    if (memory) {
        lds_player_render_at(player, (stretch->first - known->begin) / second, 1.0 / second, stretch->n, x);
        memset(x + stretch->n, 0, (filter->n - stretch->n) * sizeof *x);
        fftw_execute(plan);
        invert(filter);
    }
    lds_fft_free(plan);
    lds_player_free(player);
    return memory;
}

void lds_sweep_filter_free(struct lds_sweep_filter *filter)
{
    free(filter->played);
    *filter = (struct lds_sweep_filter){0};
}

/* ---- the response ---- */

/* An offset would be a step at both ends of the stretch. */
static void take_mean_out(double *x, size_t n)
{
    double mean = 0.0;
    for (size_t i = 0; i < n; i++)
        mean += x[i] / (double)n;
    for (size_t i = 0; i < n; i++)
        x[i] -= mean;
}

bool lds_stretch_transform(double *x, size_t frames)
{
    const size_t n = good_length(frames);
    fftw_plan plan = lds_fft_real((int)n, x, (double complex *)x);
    if (plan) {
        take_mean_out(x, frames);
        memset(x + frames, 0, (n - frames) * sizeof *x);
        fftw_execute(plan);
    }
    lds_fft_free(plan);
    return plan;
}

bool lds_impulse_make(struct lds_impulse *impulse, const struct lds_sweep_filter *filter, enum lds_impulse_of of,
                      const double complex *spectrum)
{
    const size_t n = filter->n;
    const struct endless endless = endless_of(filter);
    *impulse =
        (struct lds_impulse){.n = n,
                             .rate_hz = filter->rate_hz,
                             .length_s = length_of(filter->known->spec) * (1.0 + 1e-6 * filter->known->clock_ppm),
                             .repeat_s = filter->known->spec->seconds * (1.0 + 1e-6 * filter->known->clock_ppm),
                             .spec = filter->known->spec};
    impulse->h = malloc((n + 2) * sizeof *impulse->h);
    double complex *bin = (double complex *)impulse->h; /* in place */
    fftw_plan back = impulse->h ? lds_fft_to_real((int)n, bin, impulse->h) : NULL;
    for (size_t k = 0; back && k <= n / 2; k++)
        bin[k] = spectrum[k] *
                 (of == LDS_IMPULSE_LINEAR ? filter->played[k] : endless_inverse(&endless, filter->played[k], k));
    if (back)
        fftw_execute(back);
    lds_fft_free(back);
    return back;
}

void lds_impulse_free(struct lds_impulse *impulse)
{
    free(impulse->h);
    impulse->h = NULL;
}

/* ---- its parts ---- */

struct part { /* seconds before and after the order's place, with the fades */
    double before_s, after_s;
};

/* From one repeat to the next; of one alone to the end of the stretch. */
static double room_s(const struct lds_impulse *impulse)
{
    return impulse->spec->repeats > 1 ? impulse->repeat_s : (double)impulse->n / impulse->rate_hz;
}

/* Half way to its neighbours, so that they do not overlap. */
static struct part part_of(const struct lds_impulse *impulse, int order)
{
    const double length_s = impulse->length_s;
    const double most_s = fmin(LONGEST_S, 0.5 * (room_s(impulse) - length_s * log(PAST_ORDERS)));
    if (order == 0)
        return (struct part){0.5 * most_s, most_s};
    const double before_s = 0.5 * length_s * log1p(1.0 / order);
    const double after_s = order > 1 ? 0.6 * length_s * log((double)order / (order - 1)) : most_s;
    return (struct part){fmin(before_s, 0.25 * LONGEST_S), fmin(after_s, most_s)};
}

/* A part that begins at sample `from` (circular), windowed, put where its place is time 0. */
static void cut(const struct lds_impulse *impulse, double from, size_t before, size_t length, double *x, size_t n)
{
    const size_t edge = (size_t)(EDGE * (double)length);
    const double begin = from - (double)impulse->n * floor(from / (double)impulse->n);
    memset(x, 0, n * sizeof *x);
    for (size_t i = 0; i < length; i++) {
        double w = 1.0;
        if (i < edge && i < before)
            w = 0.5 - 0.5 * cos(M_PI * ((double)i + 0.5) / (double)(edge < before ? edge : before));
        else if (i >= length - edge)
            w = 0.5 - 0.5 * cos(M_PI * ((double)(length - i) - 0.5) / (double)edge);
        x[(i + n - before) % n] = w * impulse->h[((size_t)begin + i) % impulse->n];
    }
}

/* Parts between the linear response and the highest order of the next, or the end: noise alone. They are as long as the
 * part that they are for, or shorter where there is no room; their power counts by length. */
struct quiet {
    double first_s;
    size_t length, count;
};

static struct quiet quiet_parts(const struct lds_impulse *impulse, size_t length)
{
    struct quiet quiet = {.first_s = part_of(impulse, 1).after_s};
    const double end_s = room_s(impulse) - impulse->length_s * log(PAST_ORDERS);
    const double room = (end_s - quiet.first_s) * impulse->rate_hz;
    quiet.length = (size_t)fmax(fmin(room, (double)length), 0.0);
    if ((double)quiet.length >= SHORTEST_S * impulse->rate_hz)
        quiet.count = (size_t)fmin(floor(room / (double)quiet.length), QUIET_PARTS);
    return quiet;
}

struct cutting {
    const struct lds_impulse *impulse;
    size_t n;
    double *x;
    double complex *bin; /* in place */
    fftw_plan plan;
};

/* The mean over repeats, each at its place, from which rounding to samples is taken back. */
static void average(struct cutting *c, double place, size_t before, size_t length, double complex *out)
{
    const int repeats = c->impulse->spec->repeats;
    memset(out, 0, (c->n / 2 + 1) * sizeof *out);
    for (int r = 0; r < repeats; r++) {
        const double at = place + r * c->impulse->repeat_s * c->impulse->rate_hz, late = at - rint(at);
        cut(c->impulse, rint(at) - (double)before, before, length, c->x, c->n);
        fftw_execute(c->plan);
        if (repeats == 1) { /* half a sample turns no phase within a step of an octave */
            memcpy(out, c->bin, (c->n / 2 + 1) * sizeof *out);
            return;
        }
        for (size_t k = 0; k <= c->n / 2; k++)
            out[k] += c->bin[k] * cexp(I * 2.0 * M_PI * late * (double)k / (double)c->n) / repeats;
    }
}

static void average_noise(struct cutting *c, const struct quiet *quiet, double scale, double *noise)
{
    for (size_t q = 0; q < quiet->count; q++) {
        cut(c->impulse, rint(quiet->first_s * c->impulse->rate_hz) + (double)(q * quiet->length), quiet->length / 4,
            quiet->length, c->x, c->n);
        fftw_execute(c->plan);
        for (size_t k = 0; k <= c->n / 2; k++)
            noise[k] += scale * creal(c->bin[k] * conj(c->bin[k])) / (double)quiet->count;
    }
}

bool lds_impulse_bins(const struct lds_impulse *impulse, int order, struct lds_transfer_bins *bins)
{
    const struct part part = part_of(impulse, order);
    const double rate_hz = impulse->rate_hz, place = order > 0 ? -impulse->length_s * log(order) * rate_hz : 0.0;
    const size_t before = (size_t)(part.before_s * rate_hz), length = before + (size_t)(part.after_s * rate_hz);
    const struct quiet quiet = quiet_parts(impulse, length);
    struct cutting c = {.impulse = impulse, .n = good_length(length)};
    double *noise = quiet.count > 0 ? calloc(c.n / 2 + 1, sizeof *noise) : NULL;
    double complex *out = malloc((c.n / 2 + 1) * sizeof *out);
    c.x = malloc((c.n + 2) * sizeof *c.x);
    c.bin = (double complex *)c.x;
    c.plan = c.x ? lds_fft_real((int)c.n, c.x, c.bin) : NULL;
    const bool memory = c.plan && out && (noise || quiet.count == 0);
    *bins = (struct lds_transfer_bins){.bin_hz = rate_hz / (double)c.n,
                                       .bins = c.n / 2 + 1,
                                       .out = out,
                                       .noise = noise,
                                       .noise_dof = 2.0 * (double)quiet.count * (double)quiet.length / (double)length,
                                       .averages = impulse->spec->repeats};
    if (memory) {
        average(&c, place, before, length, out);
        average_noise(&c, &quiet, (double)length / (double)quiet.length, noise);
    }
    lds_fft_free(c.plan);
    free(c.x);
    return memory;
}

void lds_impulse_bins_free(struct lds_transfer_bins *bins)
{
    free((void *)bins->out);
    free((void *)bins->noise);
    *bins = (struct lds_transfer_bins){0};
}
