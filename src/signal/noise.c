/* One period of noise: lines of random phase, of equal amplitude (white) or of one that falls with the root of
 * frequency (pink). Random phases alone have peaks of 12 to 13 dB over the rms. To lower the peaks, the waveform is
 * clipped and the lines take the phases of the clipped waveform, several times over (van der Ouderaa, Schoukens and
 * Renneboog, IEEE Trans. Instrum. Meas. 37(1), 1988; from memory). Clipping is done at twice the rate, so that the
 * peaks between the samples, which the player makes, are low too. */
#include "signal/noise.h"

#include <gsl/gsl_rng.h>
#include <math.h>
#include <stdlib.h>

#include "spectrum/fft.h"

enum { OVER = 2, ROUNDS = 8 };
static const double CLIP = 1.15; /* over the rms; found by trial */

struct making {
    int n; /* samples at OVER times the rate */
    int lines;
    bool pink;
    double *x;
    double complex *line; /* n/2 + 1 */
    fftw_plan forward, back;
};

static double amplitude(const struct making *m, int k)
{
    return k < 1 || k >= m->lines ? 0.0 : m->pink ? 1.0 / sqrt(k) : 1.0;
}

static double rms(const struct making *m)
{
    double sum = 0.0;
    for (int i = 0; i < m->n; i++)
        sum += m->x[i] * m->x[i];
    return sqrt(sum / m->n);
}

static void lower_peaks(struct making *m)
{
    const double most = CLIP * rms(m);
    for (int i = 0; i < m->n; i++)
        m->x[i] = m->x[i] > most ? most : m->x[i] < -most ? -most : m->x[i];
    fftw_execute(m->forward);
    for (int k = 0; k <= m->n / 2; k++) {
        const double re = creal(m->line[k]), im = cimag(m->line[k]), size = sqrt(re * re + im * im);
        m->line[k] = size > 0.0 ? amplitude(m, k) / size * m->line[k] : amplitude(m, k);
    }
    fftw_execute(m->back);
}

static void take(const struct making *m, struct lds_noise *noise)
{
    double peak = 0.0, between = 0.0;
    for (int i = 0; i < m->n; i++) {
        between = fmax(between, fabs(m->x[i]));
        if (i % OVER == 0)
            peak = fmax(peak, fabs(m->x[i]));
    }
    for (int i = 0; i < m->n / OVER; i++)
        noise->period[i] = m->x[i * OVER] / peak;
    noise->peak = between / peak;
    noise->rms = rms(m) / peak;
}

bool lds_noise_make(const struct lds_signal_spec *spec, struct lds_noise *noise)
{
    struct making m = {.n = OVER * spec->period, .lines = spec->period / 2, .pink = spec->pink};
    gsl_rng *random = gsl_rng_alloc(gsl_rng_mt19937);
    noise->period = malloc((size_t)spec->period * sizeof *noise->period);
    m.x = malloc((size_t)m.n * sizeof *m.x);
    m.line = malloc(((size_t)m.n / 2 + 1) * sizeof *m.line);
    if (m.x && m.line) {
        m.forward = lds_fft_real(m.n, m.x, m.line);
        m.back = lds_fft_to_real(m.n, m.line, m.x);
    }
    const bool memory = random && noise->period && m.forward && m.back;
    if (memory) {
        gsl_rng_set(random, (unsigned long)spec->seed);
        for (int k = 0; k <= m.n / 2; k++)
            m.line[k] = k < m.lines ? amplitude(&m, k) * cexp(I * 2.0 * M_PI * gsl_rng_uniform(random)) : 0.0;
        fftw_execute(m.back);
        for (int round = 0; round < ROUNDS; round++)
            lower_peaks(&m);
        take(&m, noise);
    } else {
        lds_noise_free(noise);
    }
    lds_fft_free(m.forward);
    lds_fft_free(m.back);
    if (random)
        gsl_rng_free(random);
    free(m.x);
    free(m.line);
    return memory;
}

void lds_noise_free(struct lds_noise *noise)
{
    free(noise->period);
    *noise = (struct lds_noise){0};
}
