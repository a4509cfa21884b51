#include "measure/known/periods.h"

#include <stdlib.h>
#include <string.h>

#include "measure/known/resample.h"
#include "spectrum/fft.h"

struct work {
    const struct lds_periods_request *request;
    double *x;
    double complex *spectrum;
    fftw_plan plan;
};

static void transform(struct work *work, double complex *to)
{
    const size_t bins = work->request->period / 2 + 1;
    fftw_execute(work->plan);
    if (to)
        memcpy(to, work->spectrum, bins * sizeof *to);
}

/* Welford's running mean and sum of squares, bin by bin: the difference of two large sums would lose a small variance.
 */
static void add(struct lds_periods *periods, const double complex *spectrum)
{
    periods->averages++;
    for (size_t k = 0; k < periods->bins; k++) {
        const double complex old = spectrum[k] - periods->out[k];
        periods->out[k] += old / (double)periods->averages;
        periods->noise[k] += creal(conj(old) * (spectrum[k] - periods->out[k]));
    }
}

static void average(struct work *work, struct lds_periods *periods)
{
    const struct lds_periods_request *r = work->request;
    memcpy(work->x, r->reference, r->period * sizeof *work->x);
    transform(work, periods->in);
    for (size_t p = 1; p < r->periods; p++) {
        const double first = r->begin + (double)(p * r->period) * r->step;
        lds_resample(r->x, r->n, first, r->step, r->period, work->x);
        transform(work, NULL);
        add(periods, work->spectrum);
    }
    for (size_t k = 0; k < periods->bins && periods->averages > 1; k++)
        periods->noise[k] /= (double)(periods->averages - 1);
    if (periods->averages < 2) {
        free(periods->noise);
        periods->noise = NULL;
    }
}

bool lds_periods_average(const struct lds_periods_request *request, struct lds_periods *periods)
{
    const size_t bins = request->period / 2 + 1;
    struct work work = {.request = request,
                        .x = malloc(request->period * sizeof *work.x),
                        .spectrum = malloc(bins * sizeof *work.spectrum)};
    *periods = (struct lds_periods){.bins = bins,
                                    .in = malloc(bins * sizeof *periods->in),
                                    .out = calloc(bins, sizeof *periods->out),
                                    .noise = calloc(bins, sizeof *periods->noise)};
    bool memory = work.x && work.spectrum && periods->in && periods->out && periods->noise;
    work.plan = memory ? lds_fft_real((int)request->period, work.x, work.spectrum) : NULL;
    memory = work.plan;
    if (memory)
        average(&work, periods);
    lds_fft_free(work.plan);
    free(work.x);
    free(work.spectrum);
    return memory;
}

void lds_periods_free(struct lds_periods *periods)
{
    free(periods->in);
    free(periods->out);
    free(periods->noise);
    *periods = (struct lds_periods){0};
}
