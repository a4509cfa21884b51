#include "measure/dc/lines_out.h"

#include <complex.h>
#include <math.h>
#include <stdlib.h>

#include "measure/statistics/median.h"
#include "spectrum/fft.h"

static const double LOWEST_HZ = 15.0;
static const double CLEAR = 5.0; /* times the median bin: in noise alone, not one in 1e5 bins reaches it */
enum { LINES_MOST = 48, EVEN = 256 };

struct look {
    const double *y; /* n samples, windowed */
    size_t n;
    double rate_hz;
    double *room; /* n + 2 numbers, then n/2 + 1 */
    fftw_plan plan;
};

static double hann(size_t i, size_t n)
{
    double s = sin(M_PI * ((double)i + 0.5) / (double)n);
    return s * s;
}

/* Amplitude and phase, at the first sample, of a line in n samples under a Hann window. */
static double complex phasor(const double *y, size_t n, double turns)
{
    double complex sum = 0.0;
    double weight = 0.0;
    for (size_t i = 0; i < n; i++) {
        double w = hann(i, n);
        sum += w * y[i] * cexp(-2.0 * M_PI * I * fmod(turns * (double)i, 1.0));
        weight += w;
    }
    return 2.0 * sum / weight;
}

static void transform(struct look *look)
{
    for (size_t i = 0; i < look->n; i++)
        look->room[i] = hann(i, look->n) * look->y[i];
    fftw_execute(look->plan);
    const double complex *bin = (const double complex *)look->room;
    double *size = look->room + look->n + 2;
    for (size_t k = 0; k <= look->n / 2; k++)
        size[k] = 4.0 * cabs(bin[k]) / (double)look->n;
}

/* The strongest line, in turns a sample: between its two highest bins for a Hann window, then from the phases of both
 * halves. 0: none is above least. */
static double strongest(struct look *look, double least)
{
    const double *size = look->room + look->n + 2;
    size_t peak = (size_t)(LOWEST_HZ / look->rate_hz * (double)look->n) + 1, half = look->n / 2;
    for (size_t k = peak; k < half; k++)
        peak = size[k] > size[peak] ? k : peak;
    if (peak + 1 >= half || !(size[peak] > least))
        return 0.0;
    double side = size[peak + 1] > size[peak - 1] ? 1.0 : -1.0;
    double ratio = size[side > 0.0 ? peak + 1 : peak - 1] / size[peak];
    double turns = ((double)peak + side * (2.0 * ratio - 1.0) / (ratio + 1.0)) / (double)look->n;
    double complex early = phasor(look->y, half, turns), late = phasor(look->y + half, half, turns);
    double step = carg(late / early * cexp(-2.0 * M_PI * I * fmod(turns * (double)half, 1.0))) / (2.0 * M_PI);
    return fabs(step) < 0.25 ? turns + step / (double)half : turns;
}

static void take_out(double *x, double *y, size_t n, size_t first, double complex line, double turns)
{
    for (size_t i = 0; i < n; i++) {
        double place = turns * ((double)i - (double)first);
        double value = creal(line * cexp(2.0 * M_PI * I * fmod(place, 1.0)));
        x[i] -= value;
        y[i] -= value;
    }
}

bool lds_dc_lines_out(double *x, double *y, size_t n, size_t first, double rate_hz, double least)
{
    struct look look = {.y = y + first, .n = (n - first) / EVEN * EVEN, .rate_hz = rate_hz};
    if (n <= first || look.n == 0)
        return true;
    look.room = fftw_alloc_real(look.n + 2 + 2 * (look.n / 2 + 1));
    look.plan = look.room ? lds_fft_real((int)look.n, look.room, (double complex *)look.room) : NULL;
    bool memory = look.plan;
    for (int i = 0; memory && i < LINES_MOST; i++) {
        transform(&look);
        if (i == 0) {
            double *copy = look.room + look.n + 2 + look.n / 2 + 1;
            for (size_t k = 0; k <= look.n / 2; k++)
                copy[k] = look.room[look.n + 2 + k];
            least = fmax(least, CLEAR * lds_median(copy, look.n / 2 + 1));
        }
        double turns = strongest(&look, least);
        if (turns == 0.0)
            break;
        take_out(x, y, n, first, phasor(look.y, look.n, turns), turns);
    }
    lds_fft_free(look.plan);
    fftw_free(look.room);
    return memory;
}
