/* The transform of one segment of the slow stream, and what is taken from it: the tone's lines and each order's
 * band. */
#include "measure/mains/segment.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include <fftw3.h>

#include "spectrum/fft.h"
#include "spectrum/window.h"

enum { PRODUCT_ORDERS = 5 };
static const double LOWEST_PRODUCT_HZ = 20.0;

/* The smallest length of at least n with no prime factors but 2, 3 and 5. */
static size_t good_length(size_t n)
{
    for (;; n++) {
        size_t m = n;
        for (size_t p = 2; p <= 5; p += p == 2 ? 1 : 2)
            while (m % p == 0)
                m /= p;
        if (m == 1)
            return n;
    }
}

/* Integral of the analysis window over the first share u of its length; 1 at u = 1. */
static double window_integral(double u)
{
    if (u <= 0.0)
        return 0.0;
    if (u >= 1.0)
        return 1.0;
    const struct lds_window *w = &lds_window_analysis;
    double sum = w->a[0] * u;
    for (int k = 1; k < w->terms; k++)
        sum += (k % 2 ? -w->a[k] : w->a[k]) * sin(2.0 * M_PI * k * u) / (2.0 * M_PI * k);
    return sum / w->a[0];
}

/* A rectangle convolved with the analysis window of length `edge`: its transform is the product of both, so beyond
 * 7/edge it is as low as the window's side lobes. With edge = 1 only the window itself is left. */
double lds_mains_taper(double edge, double u)
{
    if (u <= 0.0 || u >= 1.0)
        return 0.0;
    if (edge <= 0.0)
        return 1.0;
    if (edge > 0.999) {
        const struct lds_window *w = &lds_window_analysis;
        double sum = 0.0;
        for (int k = 0; k < w->terms; k++)
            sum += (k % 2 ? -w->a[k] : w->a[k]) * cos(2.0 * M_PI * k * u);
        return sum;
    }
    return window_integral(u / edge) - window_integral((u - (1.0 - edge)) / edge);
}

/* Removes the mean and applies the edges. Returns the sums of the weights and of their squares. */
static void taper_samples(double *x, size_t n, double edge, double *sum, double *sum2)
{
    double mean = 0.0;
    for (size_t i = 0; i < n; i++)
        mean += x[i];
    mean /= (double)n;
    *sum = *sum2 = 0.0;
    const size_t edged = edge > 0.5 ? n : (size_t)ceil(edge * (double)n) + 1;
    for (size_t i = 0; i < n; i++) {
        const bool flat = i >= edged && n - i > edged;
        const double w = flat ? 1.0 : lds_mains_taper(edge, ((double)i + 0.5) / (double)n);
        x[i] = w * (x[i] - mean);
        *sum += w;
        *sum2 += w * w;
    }
}

/* Room for the ringing of the bands' filters beyond the ends; finer bins for a short segment. */
static size_t padded_length(size_t n, double rate_hz)
{
    const double seconds = (double)n / rate_hz;
    const size_t least = seconds < 2.0 ? 8 * n : seconds < 8.0 ? 2 * n : n + (size_t)(4.5 * rate_hz);
    return 2 * good_length((least + 1) / 2);
}

size_t lds_mains_spectrum_room(size_t n, double rate_hz)
{
    const double brief = fmin(16.0 * rate_hz, 8.0 * (double)n);
    const size_t least = 2 * good_length((size_t)brief / 2 + 1), padded = padded_length(n, rate_hz);
    return least > padded ? least : padded;
}

/* The transform of 2n reals from that of n complex numbers, even samples real and odd ones imaginary (Numerical
 * Recipes, "FFT of single real function"); the bin at half the rate is dropped. FFTW plans complex in-place transforms
 * many times faster than real ones, and planning takes most of the time here. */
static void untangle(double complex *z, size_t n, double scale)
{
    z[0] = scale * (creal(z[0]) + cimag(z[0]));
    const double complex advance = cexp(-I * (M_PI / (double)n));
    double complex turn = 1.0;
    for (size_t k = 1; k <= n / 2; k++) {
        turn = k % 64 ? turn * advance : cexp(-I * (M_PI * (double)k / (double)n));
        const double complex a = z[k], b = conj(z[n - k]);
        const double complex even = 0.5 * scale * (a + b), odd = -0.5 * scale * I * (a - b) * turn;
        z[k] = even + odd;
        z[n - k] = conj(even - odd);
    }
}

bool lds_mains_spectrum_make(struct lds_mains_spectrum *spectrum, double *x, size_t n, double rate_hz)
{
    memset(spectrum, 0, sizeof *spectrum);
    const double seconds = (double)n / rate_hz;
    spectrum->padded = padded_length(n, rate_hz);
    spectrum->bins = spectrum->padded / 2;
    spectrum->rate_hz = rate_hz;
    spectrum->seconds = seconds;
    spectrum->bin_hz = rate_hz / (double)spectrum->padded;
    spectrum->taper_s = fmin(seconds, fmax(0.2, fmin(1.0, 0.25 * seconds)));
    spectrum->bin = (double complex *)x;
    memset(x + n, 0, (spectrum->padded - n) * sizeof *x);
    double sum, sum2;
    taper_samples(x, n, spectrum->taper_s / seconds, &sum, &sum2);
    spectrum->enbw_hz = rate_hz * sum2 / (sum * sum);
    fftw_plan plan = lds_fft_complex((int)spectrum->bins, spectrum->bin, FFTW_FORWARD);
    if (!plan)
        return false;
    fftw_execute(plan);
    lds_fft_free(plan);
    untangle(spectrum->bin, spectrum->bins, 1.0 / sum);
    return true;
}

static double bin_power(const struct lds_mains_spectrum *spectrum, size_t i)
{
    const double re = creal(spectrum->bin[i]), im = cimag(spectrum->bin[i]);
    return 2.0 * (re * re + im * im);
}

/* The strongest bin within reach_hz, refined by a parabola through the logarithms. */
static double peak_near(const struct lds_mains_spectrum *spectrum, double frequency_hz, double reach_hz, double *power)
{
    const double top = (double)spectrum->bins - 2.0;
    const size_t first = (size_t)fmin(top, fmax(1.0, floor((frequency_hz - reach_hz) / spectrum->bin_hz)));
    const size_t last = (size_t)fmin(top, fmax(1.0, ceil((frequency_hz + reach_hz) / spectrum->bin_hz)));
    size_t best = first;
    for (size_t i = first; i <= last; i++)
        if (bin_power(spectrum, i) > bin_power(spectrum, best))
            best = i;
    *power = bin_power(spectrum, best);
    const double below = bin_power(spectrum, best - 1), above = bin_power(spectrum, best + 1);
    double shift = 0.0;
    if (below > 0.0 && above > 0.0 && *power > below && *power > above)
        shift = 0.5 * log(above / below) / (2.0 * log(*power) - log(above) - log(below));
    return spectrum->bin_hz * ((double)best + shift);
}

/* The second tone, its harmonics, and the products of both tones up to some order. */
static void add_second(const struct lds_mains_spectrum *spectrum, double first_hz, double second_hz, double top_hz,
                       struct lds_mains_tones *tones)
{
    for (int sum = 1; sum <= PRODUCT_ORDERS; sum++)
        for (int q = 1; q <= sum; q++)
            for (int sign = -1; sign <= (sum > q ? 1 : -1); sign += 2) {
                double f = fabs(q * second_hz + sign * (sum - q) * first_hz), power;
                if (f < LOWEST_PRODUCT_HZ || f >= top_hz || tones->count == LDS_MAINS_TONES)
                    continue;
                tones->frequency_hz[tones->count] = peak_near(spectrum, f, 2.0 / spectrum->seconds, &power);
                tones->order[tones->count] = 0;
                tones->power[tones->count++] = power;
            }
}

void lds_mains_tones_find(const struct lds_mains_spectrum *spectrum, double tone_hz, double second_hz,
                          struct lds_mains_tones *tones)
{
    memset(tones, 0, sizeof *tones);
    if (!(tone_hz > 0.0))
        return;
    const double top = fmin(0.47 * spectrum->rate_hz, 2100.0 + 10.0 / spectrum->taper_s);
    double f1 = tone_hz;
    for (int m = 1; m <= LDS_MAINS_TONES && m * f1 < top; m++) {
        double power;
        const double found =
            peak_near(spectrum, m * f1, m == 1 ? 1.5 / spectrum->taper_s : 2.0 / spectrum->seconds, &power);
        if (m == 1)
            f1 = found;
        tones->frequency_hz[tones->count] = m == 1 ? found : m * f1;
        tones->order[tones->count] = 0;
        tones->power[tones->count++] = power;
    }
    if (second_hz > 0.0)
        add_second(spectrum, f1, second_hz, top, tones);
    tones->harmonics = tones->count;
}

double lds_mains_tones_distance(const struct lds_mains_tones *tones, double frequency_hz)
{
    double least = INFINITY;
    for (int i = 0; i < tones->count; i++)
        least = fmin(least, fabs(frequency_hz - tones->frequency_hz[i]));
    return least;
}

/* Half the width of a band: room for k times the wander, and for noise beside the line. */
static double band_half_hz(double seconds)
{
    return seconds < 4.0 ? 22.0 : 12.0;
}

/* Gain of a band's filter at an offset, given as a share of the low rate: 1 up to LDS_MAINS_FLAT, then falling as
 * smoothly as the analysis window's integral, so that it rings for 7/((0.5 - FLAT) rate) and no longer. */
static double band_gain(double share)
{
    return window_integral((0.5 - fabs(share)) / (0.5 - LDS_MAINS_FLAT));
}

/* Inverse transform of the bins around k f, turned by the distance of k f from the middle bin. */
static void bring_down(const struct lds_mains_bands *bands, const struct lds_mains_spectrum *spectrum, int order,
                       fftw_plan plan)
{
    double complex *z = bands->z[order];
    const size_t n = bands->points, half = n / 2;
    const double centre = order * bands->frequency_hz / spectrum->bin_hz;
    const long middle = lround(centre);
    for (size_t j = 0; j < n; j++) {
        const long i = middle + (j < half ? (long)j : (long)j - (long)n);
        const bool there = i > 0 && i < (long)spectrum->bins;
        z[j] = there ? band_gain((double)(i - middle) / (double)n) * spectrum->bin[i] : 0.0;
    }
    fftw_execute_dft(plan, z, z);
    const double turn = -2.0 * M_PI * (centre - (double)middle) / (double)n;
    for (size_t m = 0; m < n; m++)
        z[m] *= cexp(I * (turn * lds_mains_point_time(bands, m)));
}

double lds_mains_point_time(const struct lds_mains_bands *bands, size_t point)
{
    const bool before = 2 * point > bands->points + bands->inside;
    return (double)point - (before ? (double)bands->points : 0.0);
}

bool lds_mains_bands_make(struct lds_mains_bands *bands, const struct lds_mains_spectrum *spectrum, double frequency_hz)
{
    memset(bands, 0, sizeof *bands);
    const size_t n = 2 * good_length((size_t)ceil(band_half_hz(spectrum->seconds) / spectrum->bin_hz));
    bands->points = n;
    bands->frequency_hz = frequency_hz;
    bands->rate_hz = (double)n * spectrum->bin_hz;
    bands->inside = (size_t)fmin((double)n, ceil(spectrum->seconds * bands->rate_hz));
    bands->taper = calloc(n, sizeof *bands->taper);
    bands->store = fftw_alloc_complex(n * LDS_MAINS_ORDERS);
    if (!bands->taper || !bands->store)
        return false;
    fftw_plan plan = lds_fft_complex((int)n, bands->store, FFTW_BACKWARD);
    if (!plan)
        return false;
    double sum = 0.0;
    for (size_t m = 0; m < bands->inside; m++) {
        const double u = ((double)m / bands->rate_hz + 0.5 / spectrum->rate_hz) / spectrum->seconds;
        bands->taper[m] = lds_mains_taper(spectrum->taper_s / spectrum->seconds, u);
        sum += bands->taper[m];
    }
    const double reach = fmin(0.4 * spectrum->rate_hz, LDS_MAINS_TOP_HZ);
    for (int k = 1; k <= LDS_MAINS_ORDERS; k++) {
        if (k * frequency_hz > reach)
            continue;
        bands->z[k] = bands->store + (size_t)(k - 1) * n;
        bring_down(bands, spectrum, k, plan);
        /* Scaled so that a line gives C times the taper: its bins are C W(f), and W sums to the sum of the taper. */
        const double scale = sum / (double)n;
        for (size_t m = 0; m < n; m++)
            bands->z[k][m] *= scale;
    }
    lds_fft_free(plan);
    return true;
}

void lds_mains_bands_free(struct lds_mains_bands *bands)
{
    free(bands->taper);
    fftw_free(bands->store);
    memset(bands, 0, sizeof *bands);
}

bool lds_mains_band_clear(const struct lds_mains_bands *bands, const struct lds_mains_tones *tones, double taper_s,
                          int order)
{
    const double half = 0.5 * bands->rate_hz, lobe = 7.0 / taper_s;
    const double reach = taper_s < 0.3 ? fmax(half, lobe) + 0.5 : half + lobe;
    for (int i = 0; i < tones->count; i++)
        if (!tones->faint[i] && fabs(order * bands->frequency_hz - tones->frequency_hz[i]) <= reach)
            return false;
    return true;
}
