#include "measure/power/plateau.h"

#include <complex.h>
#include <math.h>
#include <stdlib.h>

#include "measure/statistics/median.h"
#include "measure/statistics/uncertainty.h"
#include "spectrum/fft.h"
#include "spectrum/window.h"

static const double LOW_HZ = 20.0, HIGH_HZ = 20e3, ORDER_SLACK = 1e-3;
static const double LINE = 8.0; /* times the noise: more than noise ever shows in a bin */
enum { LOBE = 8, BESIDE = 16 /* bins on each side of a line that show its noise */, BLOCK = 32, MOST = 1 << 20 };

struct work {
    double bin_hz, hz, end_hz;
    size_t n, bins;
    const struct lds_bench *bench;
    double complex *spectrum;
    double *power;            /* of each bin, so that the bins of a line, or of noise, add up to its mean square */
    double *sorted;           /* room for what a median needs */
    double sum, enbw, spread; /* of the window; spread: variance of a sum of bins of noise, over the sum of squares */
};

/* The largest even length with no prime factors but 2, 3 and 5. */
size_t lds_plateau_length(size_t room)
{
    size_t best = 0;
    for (size_t five = 1; five <= MOST; five *= 5)
        for (size_t three = five; three <= MOST; three *= 3)
            for (size_t n = 2 * three; n <= MOST && n <= room; n *= 2)
                best = n > best ? n : best;
    return best;
}

static bool transform(struct work *w, double *x)
{
    double *window = malloc(w->n * sizeof *window), mean = 0.0, squares = 0.0, fourths = 0.0;
    fftw_plan plan = window ? lds_fft_real((int)w->n, x, w->spectrum) : NULL;
    if (!plan) {
        free(window);
        return false;
    }
    lds_window_fill(&lds_window_analysis, w->n, window);
    for (size_t i = 0; i < w->n; i++) {
        const double square = window[i] * window[i];
        mean += window[i] * x[i];
        w->sum += window[i];
        squares += square;
        fourths += square * square;
    }
    for (size_t i = 0; i < w->n; i++) /* the weighted mean, so that a partial period of the tone does not count as DC */
        x[i] = (x[i] - mean / w->sum) * window[i];
    fftw_execute(plan);
    lds_fft_free(plan);
    free(window);
    w->enbw = lds_window_enbw(&lds_window_analysis);
    w->spread = (double)w->n * fourths / (squares * squares); /* Parseval over the window's autocorrelation */
    for (size_t i = 0; i < w->bins; i++) {
        const double gain = lds_bench_gain(w->bench, fmax((double)i, 0.5) * w->bin_hz), re = creal(w->spectrum[i]),
                     im = cimag(w->spectrum[i]);
        w->power[i] = 2.0 * (re * re + im * im) / (w->sum * w->sum * w->enbw * gain * gain);
    }
    return true;
}

/* Phasor (rms) of a line at that frequency, its phase at the first sample. */
static double complex line_at(const struct work *w, double hz)
{
    const double place = hz / w->bin_hz, off = place - round(place);
    const double complex bin = w->spectrum[(size_t)round(place)];
    return bin * cexp(-I * M_PI * off) * M_SQRT2 /
           (w->sum * lds_window_transform(&lds_window_analysis, off) * lds_bench_gain(w->bench, hz));
}

/* Mean power of a bin of noise, from the median of several bins, each chi-square with 2 degrees of freedom. */
static double noise_of(double *bin, size_t count)
{
    return count ? lds_median(bin, count) / M_LN2 : 0.0;
}

/* Power of a bin of noise close to a line, and its degrees of freedom: the median varies 1/ln 2 more than the mean. */
static double noise_beside(const struct work *w, double hz, double *dof)
{
    const double middle = hz / w->bin_hz, reach = fmin(LOBE + BESIDE, 0.5 * w->hz / w->bin_hz);
    size_t count = 0;
    for (double off = LOBE; off <= reach; off++) {
        const double place[] = {round(middle - off), round(middle + off)};
        for (int side = 0; side < 2; side++)
            if (place[side] >= LOBE && place[side] < (double)w->bins)
                w->sorted[count++] = w->power[(size_t)place[side]];
    }
    *dof = fmax(2.0 * (double)count * M_LN2 * M_LN2 / w->spread, 1.0);
    return noise_of(w->sorted, count);
}

static struct lds_line_ratio ratio_at(const struct work *w, int order, double fundamental)
{
    struct lds_line_ratio ratio;
    const double complex line = line_at(w, order * w->hz);
    ratio.raw = creal(line * conj(line)) / fundamental;
    ratio.noise = noise_beside(w, order * w->hz, &ratio.dof) * w->enbw / fundamental;
    return ratio;
}

static int last_order(const struct work *w, double high_hz)
{
    const double reach = fmin(fmin(high_hz, w->end_hz) * (1.0 + ORDER_SLACK), ((double)w->bins - LOBE) * w->bin_hz);
    return (int)floor(reach / w->hz);
}

static bool measure_orders(const struct work *w, struct lds_plateau *plateau)
{
    const int last = last_order(w, HIGH_HZ);
    struct lds_line_ratio *ratio = malloc((size_t)(last + 1) * sizeof *ratio);
    if (!ratio)
        return false;
    plateau->orders = last < LDS_PLATEAU_ORDERS ? last : LDS_PLATEAU_ORDERS;
    for (int k = 2; k <= last; k++)
        ratio[k] = ratio_at(w, k, plateau->fundamental);
    for (int k = 2; k <= plateau->orders; k++)
        plateau->order[k] = ratio[k];
    plateau->thd = last >= 2 ? lds_line_sum(&ratio[2], last - 1)
                             : (struct lds_line_level){.value = NAN, .low = NAN, .high = NAN, .u = NAN, .dof = NAN};
    free(ratio);
    return true;
}

static void measure_flattening(const struct work *w, double complex fundamental, struct lds_plateau *plateau)
{
    double complex z[LDS_FLATTENING_ORDERS + 1] = {0};
    double noise = 0.0;
    int last = last_order(w, INFINITY);
    last = last < LDS_FLATTENING_ORDERS ? last : LDS_FLATTENING_ORDERS;
    for (int k = 2; k <= last; k++) {
        z[k] = line_at(w, k * w->hz) / cabs(fundamental) * cexp(-I * (double)k * carg(fundamental));
        noise += ratio_at(w, k, plateau->fundamental).noise;
    }
    lds_flattening_fit(z, last, noise, &plateau->flattening);
}

/* Distance in bins to the nearest multiple of the tone. */
static bool is_in_lobe(const struct work *w, double bin, bool *fundamental)
{
    const double order = fmax(round(bin * w->bin_hz / w->hz), 1.0);
    *fundamental = order == 1.0;
    return fabs(bin - order * w->hz / w->bin_hz) < LOBE;
}

/* Everything in the band but the fundamental. The variance is the square of the noise's own power and, where there is a
 * line, twice the product of both powers. */
static void measure_band(const struct work *w, struct lds_plateau *plateau)
{
    const double high_hz = fmin(HIGH_HZ, w->end_hz);
    const size_t first = (size_t)ceil(LOW_HZ / w->bin_hz), end = (size_t)floor(high_hz / w->bin_hz) + 1;
    double rest = 0.0, noise_power = 0.0, variance = 0.0, dof;
    const double under = noise_beside(w, w->hz, &dof);
    for (size_t block = first; block < end; block += BLOCK) {
        const size_t stop = block + BLOCK < end ? block + BLOCK : end;
        for (size_t i = block; i < stop; i++)
            w->sorted[i - block] = w->power[i];
        const double noise = noise_of(w->sorted, stop - block);
        for (size_t i = block; i < stop; i++) {
            bool fundamental;
            const bool lobe = is_in_lobe(w, (double)i, &fundamental);
            const double power = lobe && fundamental ? under : w->power[i];
            rest += power;
            noise_power += lobe ? fmin(power, fundamental ? under : noise) : power;
            variance += w->spread * noise * (noise + (power > LINE * noise ? 2.0 * (power - noise) : 0.0));
        }
    }
    const double total = plateau->fundamental + rest,
                 u = 10.0 / M_LN10 * sqrt(variance) / rest * plateau->fundamental / total;
    const double value = lds_power_db(rest / total), half = lds_coverage(INFINITY) * u;
    plateau->total = total;
    plateau->noise = noise_power;
    plateau->thd_n = (struct lds_line_level){value, value - half, fmin(value + half, 0.0), u, INFINITY};
}

bool lds_plateau_measure(double *x, size_t n, double rate_hz, double hz, double end_hz, const struct lds_bench *bench,
                         struct lds_plateau *plateau)
{
    struct work w = {
        .bin_hz = rate_hz / (double)n, .hz = hz, .end_hz = end_hz, .n = n, .bins = n / 2 + 1, .bench = bench};
    w.spectrum = malloc(w.bins * sizeof *w.spectrum);
    w.power = malloc(w.bins * sizeof *w.power);
    w.sorted = malloc((2 * BESIDE + BLOCK + 2) * sizeof *w.sorted);
    bool memory = w.spectrum && w.power && w.sorted && transform(&w, x);
    if (memory) {
        double dof;
        const double complex fundamental = line_at(&w, hz);
        const double noise = noise_beside(&w, hz, &dof) * w.enbw;
        plateau->hz = hz;
        plateau->fundamental = creal(fundamental * conj(fundamental));
        plateau->fundamental_u = sqrt(2.0 * noise * plateau->fundamental);
        memory = measure_orders(&w, plateau);
        measure_flattening(&w, fundamental, plateau);
        measure_band(&w, plateau);
    }
    free(w.spectrum);
    free(w.power);
    free(w.sorted);
    return memory;
}
