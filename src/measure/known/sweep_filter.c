#include "measure/known/sweep_filter.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "large.h"
#include "measure/known/impulse.h"
static const double ENDS_FROM = 0.41, ENDS_TO = 0.49; /* share of a lower rate */
enum { RUN = 32 /* bins from one exactly computed phase to the next */ };

static double clock_ratio(const struct lds_known *known)
{
    return 1.0 + 1e-6 * known->clock_ppm;
}

/* ---- as it was played ---- */

/* Fades the rendered sweep out below half the band's rate: above, it would be an alias, which the decimated capture
 * does not hold. */
static void end_early(const struct lds_sweep_band *band, const struct lds_signal_spec *spec, double first_s,
                      double second, double *x)
{
    const double from_hz = ENDS_FROM * band->rate_hz, to_hz = ENDS_TO * band->rate_hz;
    if (band->shift == 0 || spec->frequency_hz[1] <= from_hz)
        return;
    const double from_s = lds_sweep_time(spec, from_hz), to_s = lds_sweep_time(spec, to_hz);
    for (size_t i = (size_t)fmax((from_s - first_s) * second, 0.0); i < band->samples; i++)
        x[i] *= 1.0 - lds_sweep_rise(first_s + (double)i / second, from_s, to_s);
}

static bool render(const struct lds_sweep_filter *filter, const struct lds_sweep_band *band, double *x)
{
    const struct lds_known *known = filter->known;
    const double second = lds_known_frames(known, band->rate_hz), frame = ldexp(1.0, -band->shift);
    struct lds_signal_spec once = *known->spec;
    once.repeats = 1;
    struct lds_player *player = lds_player_new(&once);
    if (!player)
        return false;
    const double first_s = frame * (band->begin - known->begin) / second;
    lds_player_render_at(player, first_s, 1.0 / second, band->samples, x);
    lds_player_free(player);
    end_early(band, known->spec, first_s, second, x);
    lds_sweep_band_transform(band, x);
    return true;
}

/* The inverse is used from below the first frequency to slightly above the last. By the recorder's clock, frequencies
 * are lower by the ratio of the clocks. */
static void invert(const struct lds_sweep_filter *filter, const struct lds_sweep_band *band, double complex *played)
{
    const double *hz = filter->known->spec->frequency_hz;
    const double bin_hz = clock_ratio(filter->known) * band->rate_hz / (double)band->n;
    double most = 0.0;
    for (size_t k = 0; k <= band->n / 2; k++)
        most = fmax(most, creal(played[k] * conj(played[k])));
    for (size_t k = 0; k <= band->n / 2; k++) {
        const double f = bin_hz * (double)k;
        const double share = lds_sweep_rise(f, 0.3 * hz[0], 0.9 * hz[0]) *
                             (1.0 - lds_sweep_rise(f, 1.015 * hz[1], 1.03 * hz[1])) * lds_sweep_band_edges(band, f);
        const double complex x = played[k];
        const double size = share > 0.0 ? share / (fmax(creal(x * conj(x)), 1e-14 * most) * (double)band->n) : 0.0;
        played[k] = size * conj(x);
    }
}

/* ---- endless ---- */

/* For harmonics: the inverse of a sweep that never ends, whose spectrum is sqrt(L/f)/2 with the phase, in turns, f L (1
 * - ln(f/from)) - from L - 1/8. At low frequencies, where the beginning of the sweep shows, the inverse of the sweep as
 * it was played is used instead; otherwise the beginning of the fundamental would appear where harmonics are. */
struct endless {
    double low_hz, length_s, middle_hz, bin_hz, begin, size;
};

static struct endless endless_of(const struct lds_sweep_filter *filter, const struct lds_sweep_band *band)
{
    const struct lds_known *known = filter->known;
    const double *hz = known->spec->frequency_hz, ratio = clock_ratio(known);
    const double length_s = lds_sweep_length_s(known->spec), peak = pow(10.0, known->spec->level_dbfs / 20.0);
    return (struct endless){.low_hz = hz[0],
                            .length_s = length_s,
                            .middle_hz = sqrt(hz[0] * hz[1]),
                            .bin_hz = ratio * band->rate_hz / (double)band->n,
                            .begin = ldexp(known->begin - band->begin, -band->shift) / (double)band->n,
                            .size = 2.0 / (peak * band->rate_hz * ratio * (double)band->n * sqrt(length_s))};
}

/* A complex product without C's handling of infinities, which is slow. */
static double complex times(double complex a, double complex b)
{
    return creal(a) * creal(b) - cimag(a) * cimag(b) + I * (creal(a) * cimag(b) + cimag(a) * creal(b));
}

static double complex turn(double turns)
{
    const double angle = 2.0 * M_PI * (turns - floor(turns));
    return cos(angle) + I * sin(angle);
}

/* Phases of the bins around a middle one, by finite differences. Over so few bins the fourth difference is negligible.
 */
struct turning {
    double complex phase, first, second, third;
};

static struct turning turning_from(const struct endless *e, size_t bin)
{
    const double middle = (double)bin + 0.5 * RUN, f = e->bin_hz * middle, x = -0.5 * RUN, ratio = log(f / e->low_hz);
    const double slope = e->begin + e->bin_hz * e->length_s * ratio;
    const double bend = e->length_s * e->bin_hz * e->bin_hz / f, third = -bend * e->bin_hz / f;
    const double turns =
        e->begin * middle - f * e->length_s * (1.0 - ratio) + e->low_hz * e->length_s + 0.125; /* in the middle */
    return (struct turning){turn(turns + x * (slope + x * (bend / 2.0 + x * third / 6.0))),
                            turn(slope + bend * (x + 0.5) + third * (3.0 * x * x + 3.0 * x + 1.0) / 6.0),
                            turn(bend + third * (x + 1.0)), turn(third)};
}

/* `out` must hold the inverse of the sweep as played, unless share is 1 everywhere. */
static void make_endless(const struct endless *e, const struct lds_sweep_band *band, double complex *out)
{
    const double from_hz = 0.8 * fmax(e->middle_hz, band->low_hz);
    size_t first = (size_t)fmax(ceil(from_hz / e->bin_hz), 1.0);
    for (; first <= band->n / 2; first += RUN) {
        struct turning at = turning_from(e, first);
        for (size_t k = first; k < first + RUN && k <= band->n / 2; k++) {
            const double f = e->bin_hz * (double)k;
            const double share = lds_sweep_rise(f, 0.8 * e->middle_hz, 1.25 * e->middle_hz);
            const double size = share * e->size * sqrt(f) * lds_sweep_band_edges(band, f);
            out[k] = (share < 1.0 ? (1.0 - share) * out[k] : 0.0) + size * at.phase;
            at.phase = times(at.phase, at.first);
            at.first = times(at.first, at.second);
            at.second = times(at.second, at.third);
        }
    }
}

/* NULL: no memory. */
static double complex *make_inverse(const struct lds_sweep_filter *filter, const struct lds_sweep_band *band)
{
    const struct endless endless = endless_of(filter, band);
    double complex *inverse = lds_large(lds_sweep_band_room(band) * sizeof(double));
    bool memory = inverse;
    if (memory && band->low_hz < 2.0 * endless.middle_hz) {
        memory = render(filter, band, (double *)inverse);
        if (memory)
            invert(filter, band, inverse);
    } else if (memory) {
        memset(inverse, 0, (band->n / 2 + 1) * sizeof *inverse);
    }
    if (memory) {
        make_endless(&endless, band, inverse);
        return inverse;
    }
    free(inverse);
    return NULL;
}

/* ---- the end of the sweep ---- */

/* The part of a band that holds the end of the sweep, with the length of a transform that has a plan already. */
struct ending {
    struct lds_sweep_band band;
    double from_hz; /* the end shows from this frequency up */
};

static struct ending ending_of(const struct lds_sweep_filter *filter, const struct lds_sweep_band *band)
{
    const struct lds_signal_spec *spec = filter->known->spec;
    const double length_s = lds_sweep_length_s(spec), second = lds_known_frames(filter->known, band->rate_hz);
    const double seen_s = LDS_SWEEP_PART_MOST * band->longest_s;
    struct ending ending = {*band, spec->frequency_hz[1] * exp(-seen_s / length_s)};
    const double start_s = lds_sweep_time(spec, ending.from_hz) - seen_s - 2.0 * LDS_SWEEP_FADE_S;
    const double placed = ldexp(filter->known->begin - band->begin, -band->shift); /* sample of the beginning */
    const double skipped = floor(placed + start_s * second);
    const double samples = ceil((spec->seconds - start_s + seen_s) * second);
    const struct lds_sweep_band *smallest = NULL;
    for (size_t i = 0; i < filter->bands->count; i++) {
        const struct lds_sweep_band *one = &filter->bands->band[i];
        if ((double)one->n >= samples && (!smallest || one->n < smallest->n))
            smallest = one;
    }
    if (start_s <= 0.0 || skipped <= 0.0 || !smallest || smallest->n >= band->n) {
        ending.from_hz = 0.0; /* all of it */
        return ending;
    }
    ending.band.begin += ldexp(skipped, band->shift);
    ending.band.samples = (size_t)samples;
    ending.band.fades_in = true;
    ending.band.n = smallest->n;
    ending.band.plan = smallest->plan;
    return ending;
}

/* Processes the sweep as played in the same way as the capture. */
static double complex *make_end(const struct lds_sweep_filter *filter, const struct lds_sweep_band *band)
{
    const struct ending ending = ending_of(filter, band);
    const size_t part_n = filter->bands->part_n;
    double complex *inverse = make_inverse(filter, &ending.band);
    const size_t room = lds_sweep_band_room(&ending.band);
    double *played = inverse ? lds_large(2 * room * sizeof *played) : NULL;
    const struct lds_spectrum spectrum = {ending.band.n, ending.band.plan, (double complex *)played};
    struct lds_impulse impulse = {0};
    struct lds_transfer_bins bins = {0};
    bool memory = played && render(filter, &ending.band, played) &&
                  lds_impulse_make(&impulse, filter->bands, band, filter->known, inverse, &spectrum, played + room);
    impulse.repeats = 1; /* rendered once, and cut with the same parts as the capture */
    memory = memory && lds_impulse_bins(&impulse, 1, &bins);
    double complex *end = memory ? (double complex *)bins.out : NULL;
    for (size_t k = 0; end && k <= part_n / 2 && bins.bin_hz * (double)k < ending.from_hz; k++)
        end[k] = 1.0;
    if (memory)
        bins.out = NULL;
    lds_impulse_bins_free(&bins);
    lds_impulse_free(&impulse);
    free(inverse);
    free(played);
    return end;
}

bool lds_sweep_filter_make(struct lds_sweep_filter *filter, size_t index)
{
    const struct lds_sweep_band *band = &filter->bands->band[index];
    filter->inverse[index] = make_inverse(filter, band);
    if (filter->inverse[index] && band->ends)
        filter->end[index] = make_end(filter, band);
    return filter->inverse[index] && (filter->end[index] || !band->ends);
}

void lds_sweep_filter_free(struct lds_sweep_filter *filter)
{
    for (size_t i = 0; i < LDS_SWEEP_BANDS; i++) {
        free(filter->inverse[i]);
        free(filter->end[i]);
    }
    *filter = (struct lds_sweep_filter){0};
}
