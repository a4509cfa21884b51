#include "measure/known/impulse.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "measure/statistics/median.h"

static const double SHORTEST_S = 0.05;  /* the shortest part from which the noise is measured */
static const double PAST_ORDERS = 24.0; /* distortion of a higher order than this counts as noise */
static const double STANDS_OUT = 20.0;  /* times the median: noise of two degrees of freedom does once in a million */
static const double BETWEEN = 1.1;      /* the most that a line between two bins loses */
enum { AROUND = 128 };
enum { QUIET_PARTS = 2, QUIET_PARTS_END = 3 /* the end of the sweep shows in two at most */ };

static double response_at(const struct lds_impulse *impulse, size_t i)
{
    const size_t n = impulse->n;
    const double complex g = impulse->hartley[i <= n / 2 ? i : n - i];
    return i <= n / 2 ? creal(g) - cimag(g) : creal(g) + cimag(g);
}

/* ---- its parts ---- */

struct part { /* seconds before and after the order's place, with the fades */
    double before_s, after_s;
};

/* Time from one repeat to the next; for a single sweep, to the end of the stretch. */
static double room_s(const struct lds_impulse *impulse)
{
    return impulse->spec->repeats > 1 ? impulse->repeat_s : (double)impulse->band->n / impulse->band->rate_hz;
}

/* The longest that the linear part may be. */
static double linear_s(double room_s, double length_s)
{
    return 0.5 * (room_s - length_s * log(PAST_ORDERS));
}

double lds_impulse_shorter(const struct lds_signal_spec *spec)
{
    const double most_s = linear_s(spec->seconds, lds_sweep_length_s(spec));
    return spec->repeats > 1 ? fmax(0.1, fmin(1.0, most_s / LDS_SWEEP_LONGEST_S)) : 1.0;
}

/* A part reaches about half way to its neighbours, so that parts do not overlap. */
static struct part part_of(const struct lds_impulse *impulse, int order)
{
    const double length_s = impulse->length_s, longest_s = impulse->band->longest_s;
    const double most_s = fmin(longest_s, linear_s(room_s(impulse), length_s));
    if (order == 0)
        return (struct part){0.5 * most_s, most_s};
    const double before_s = 0.5 * length_s * log1p(1.0 / order);
    const double after_s = order > 1 ? 0.6 * length_s * log((double)order / (order - 1)) : most_s;
    return (struct part){fmin(before_s, 0.25 * longest_s), fmin(after_s, most_s)};
}

/* Copies a part that begins at sample `from` (circular), windowed, and puts it so that its place is at time 0. */
static void cut(const struct lds_impulse *impulse, double from, const struct lds_part_window *window, double *x,
                size_t n)
{
    const size_t whole = impulse->n;
    const size_t begin = (size_t)(from - (double)whole * floor(from / (double)whole));
    memset(x, 0, n * sizeof *x);
    for (size_t i = 0; i < window->length; i++)
        x[(i + n - window->before) % n] = lds_part_window_at(window, i) * response_at(impulse, (begin + i) % whole);
}

/* The spectrum of such a part, in place. NULL: no memory. */
static double complex *part_spectrum(const struct lds_impulse *impulse, double from,
                                     const struct lds_part_window *window)
{
    const struct lds_sweep_bands *bands = impulse->bands;
    double *x = malloc((bands->part_n + 2) * sizeof *x);
    if (!x)
        return NULL;
    cut(impulse, from, window, x, bands->part_n);
    lds_fft_again(bands->part_plan, x);
    return (double complex *)x;
}

/* ---- the noise ---- */

/* At frequency f the end of the sweep shows L ln(to/f) later than its place. A part that holds it has more than noise
 * at that bin. */
static bool shows_end(const struct lds_impulse *impulse, double hz, double from_s, double to_s)
{
    const double late_s = impulse->length_s * log(impulse->spec->frequency_hz[1] / hz);
    const double edge_s = LDS_PART_EDGE * (to_s - from_s);
    return late_s > from_s - edge_s && late_s < to_s + edge_s;
}

/* ---- steady lines: hum ---- */

/* The usual noise around each bin. */
static void find_usual(const struct lds_impulse *impulse, size_t bins, double *usual)
{
    double around[AROUND];
    for (size_t first = 1; first < bins; first += AROUND) {
        const size_t n = bins - first < AROUND ? bins - first : AROUND;
        memcpy(around, impulse->noise + first, n * sizeof *around);
        const double median = lds_median(around, n);
        for (size_t k = first; k < first + n; k++)
            usual[k] = median;
    }
}

/* Takes the strongest line, subtracts its lobes, and repeats that. Each line has the same magnitude in every part. */
static void find_lines(struct lds_impulse *impulse, size_t bins, const double *usual, double *rest)
{
    const struct lds_part_window *window = &impulse->noise_window;
    const double n = (double)impulse->bands->part_n, lobe = lds_part_window_bound(window, 0.0);
    while (impulse->lines < LDS_TRANSFER_LINES) {
        size_t most = 0;
        for (size_t k = 1; k < bins; k++)
            if (rest[k] > STANDS_OUT * usual[k] && (most == 0 || rest[k] > rest[most]))
                most = k;
        if (most == 0)
            return;
        const struct lds_transfer_line line = {(double)most, BETWEEN * sqrt(rest[most]) / lobe};
        impulse->line[impulse->lines++] = line;
        for (size_t k = 1; k < bins; k++) {
            const double own = line.half * lds_part_window_bound(window, ((double)k - line.bin) / n);
            rest[k] = pow(fmax(sqrt(rest[k]) - own, 0.0), 2.0);
        }
    }
}

static bool take_lines(struct lds_impulse *impulse, size_t bins)
{
    double *usual = malloc(2 * bins * sizeof *usual), *rest = usual + bins;
    if (!usual)
        return false;
    find_usual(impulse, bins, usual);
    memcpy(rest, impulse->noise, bins * sizeof *rest);
    find_lines(impulse, bins, usual, rest);
    for (size_t k = 1; impulse->lines > 0 && k < bins; k++)
        impulse->noise[k] = fmin(impulse->noise[k], STANDS_OUT * usual[k]);
    free(usual);
    return true;
}

/* Between the linear response and the highest order of the next repeat, or the end, there is only noise. It is measured
 * in parts as long as the linear part, or shorter where there is no room, and scaled by their length. */
static bool measure_noise(struct lds_impulse *impulse)
{
    const double rate_hz = impulse->band->rate_hz, first_s = part_of(impulse, 1).after_s;
    const double end_s = room_s(impulse) - impulse->length_s * log(PAST_ORDERS), room = (end_s - first_s) * rate_hz;
    const size_t bins = impulse->bands->part_n / 2 + 1;
    const double length = floor(fmin(room, (first_s + part_of(impulse, 1).before_s) * rate_hz));
    if (length < SHORTEST_S * rate_hz)
        return true;
    impulse->noise = calloc(bins, sizeof *impulse->noise);
    impulse->noise_window = (struct lds_part_window){(size_t)length, (size_t)length / 4};
    impulse->noise_parts = fmin(floor(room / length), impulse->band->ends ? QUIET_PARTS_END : QUIET_PARTS);
    double *count = calloc(bins, sizeof *count);
    bool memory = impulse->noise && count;
    for (double q = 0.0; memory && q < impulse->noise_parts; q++) {
        const double from_s = first_s + q * length / rate_hz, to_s = from_s + length / rate_hz;
        double complex *bin = part_spectrum(impulse, rint(from_s * rate_hz), &impulse->noise_window);
        for (size_t k = 1; bin && k < bins; k++) {
            const double hz = rate_hz * (double)k / (double)impulse->bands->part_n;
            const bool last = q + 1.0 >= impulse->noise_parts && count[k] == 0.0;
            if (last || !shows_end(impulse, hz, from_s, to_s)) {
                impulse->noise[k] += creal(bin[k] * conj(bin[k]));
                count[k]++;
            }
        }
        memory = bin;
        free(bin);
    }
    for (size_t k = 1; memory && k < bins; k++)
        impulse->noise[k] /= count[k];
    free(count);
    return memory && take_lines(impulse, bins);
}

/* ---- the response ---- */

/* The inverse transform by the same plan as the one before: with H(k) = H(-k)*, and g(k) = Re H(k) - Im H(k),
 * h(i) = Re G(i) - Im G(i) (Bracewell, The Hartley Transform, 1986). */
bool lds_impulse_make(struct lds_impulse *impulse, const struct lds_sweep_bands *bands,
                      const struct lds_sweep_band *band, const struct lds_known *known, const double complex *inverse,
                      const struct lds_spectrum *spectrum, double *g)
{
    const double ratio = 1.0 + 1e-6 * known->clock_ppm;
    const size_t n = spectrum->n;
    *impulse = (struct lds_impulse){.bands = bands,
                                    .band = band,
                                    .spec = known->spec,
                                    .repeats = known->spec->repeats,
                                    .n = n,
                                    .hartley = (const double complex *)g,
                                    .length_s = lds_sweep_length_s(known->spec) * ratio,
                                    .repeat_s = known->spec->seconds * ratio};
    g[0] = creal(spectrum->bin[0] * inverse[0]);
    for (size_t k = 1; k < n / 2; k++) {
        const double complex h = spectrum->bin[k] * inverse[k];
        g[k] = creal(h) - cimag(h);
        g[n - k] = creal(h) + cimag(h);
    }
    g[n / 2] = creal(spectrum->bin[n / 2] * inverse[n / 2]);
    lds_fft_again(spectrum->plan, g);
    return measure_noise(impulse);
}

void lds_impulse_free(struct lds_impulse *impulse)
{
    free(impulse->noise);
    *impulse = (struct lds_impulse){0};
}

/* The mean over repeats. Each is cut at its place rounded to a sample, and its phases are corrected for the rounding.
 * NULL: no memory. */
static double complex *average(const struct lds_impulse *impulse, double place, const struct lds_part_window *window)
{
    const double before = (double)window->before;
    const int repeats = impulse->repeats;
    const size_t n = impulse->bands->part_n;
    /* Half a sample hardly changes the phase within a step of the response, so that no correction is needed. */
    if (repeats == 1)
        return part_spectrum(impulse, rint(place) - before, window);
    double complex *out = calloc(n / 2 + 1, sizeof *out);
    for (int r = 0; out && r < repeats; r++) {
        const double here = place + r * impulse->repeat_s * impulse->band->rate_hz, late = here - rint(here);
        double complex *bin = part_spectrum(impulse, rint(here) - before, window);
        for (size_t k = 0; bin && k <= n / 2; k++)
            out[k] += bin[k] * cexp(I * 2.0 * M_PI * late * (double)k / (double)n) / repeats;
        if (!bin) {
            free(out);
            out = NULL;
        }
        free(bin);
    }
    return out;
}

bool lds_impulse_bins(const struct lds_impulse *impulse, int order, struct lds_transfer_bins *bins)
{
    const struct part part = part_of(impulse, order);
    const double rate_hz = impulse->band->rate_hz, place = order > 0 ? -impulse->length_s * log(order) * rate_hz : 0.0;
    const size_t before = (size_t)(part.before_s * rate_hz);
    const struct lds_part_window window = {before + (size_t)(part.after_s * rate_hz), before};
    const size_t n = impulse->bands->part_n;
    double *noise = impulse->noise ? malloc((n / 2 + 1) * sizeof *noise) : NULL;
    *bins = (struct lds_transfer_bins){.bin_hz = rate_hz / (double)n,
                                       .bins = n / 2 + 1,
                                       .overlap = (double)n / (double)window.length,
                                       .out = average(impulse, place, &window),
                                       .noise = noise,
                                       .window = window,
                                       .lines = impulse->lines,
                                       .noise_dof = 2.0 * impulse->noise_parts * (double)impulse->noise_window.length /
                                                    (double)n,
                                       .averages = impulse->repeats};
    for (size_t k = 0; noise && k <= n / 2; k++)
        noise[k] = impulse->noise[k] * (double)window.length / (double)impulse->noise_window.length;
    memcpy(bins->line, impulse->line, sizeof bins->line);
    return bins->out && (noise || !impulse->noise);
}

void lds_impulse_bins_free(struct lds_transfer_bins *bins)
{
    free((void *)bins->out);
    free((void *)bins->noise);
    *bins = (struct lds_transfer_bins){0};
}
