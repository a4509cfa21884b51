#include "measure/tone/envelope.h"

#include <math.h>
#include <stdlib.h>

#include "spectrum/simd.h"
#include "spectrum/window.h"

bool lds_envelope_init(struct lds_envelope *e, double rate_hz, double tone_hz, size_t n, size_t hop)
{
    *e = (struct lds_envelope){.cycles = tone_hz / rate_hz, .n = n, .hop = hop};
    e->cosine = malloc(n * sizeof *e->cosine);
    e->sine = malloc(n * sizeof *e->sine);
    e->buffer = malloc(2 * n * sizeof *e->buffer);
    if (!e->cosine || !e->sine || !e->buffer)
        return false;
    lds_sliding_init(&e->sliding, e->buffer, n, hop);
    lds_window_fill(&lds_window_analysis, n, e->cosine);
    double sum = 0.0;
    for (size_t i = 0; i < n; i++)
        sum += e->cosine[i];
    for (size_t i = 0; i < n; i++) {
        double w = 2.0 * e->cosine[i] / sum;
        double angle = 2.0 * M_PI * fmod(e->cycles * ((double)i - 0.5 * (double)n), 1.0);
        e->cosine[i] = w * cos(angle);
        e->sine[i] = -w * sin(angle);
    }
    return true;
}

void lds_envelope_free(struct lds_envelope *e)
{
    free(e->cosine);
    free(e->sine);
    free(e->buffer);
}

LDS_HOT static void correlate(const double *restrict x, const double *restrict c, const double *restrict s, size_t n,
                              double *re, double *im)
{
    lds_four a[2] = {{0}}, b[2] = {{0}};
    size_t i = 0;
    for (; i + 8 <= n; i += 8)
        for (size_t v = 0; v < 2; v++) {
            lds_four value = ((const lds_four *)(x + i))[v];
            a[v] += value * ((const lds_four *)(c + i))[v];
            b[v] += value * ((const lds_four *)(s + i))[v];
        }
    for (; i < n; i++) {
        a[0][0] += x[i] * c[i];
        b[0][0] += x[i] * s[i];
    }
    a[0] += a[1];
    b[0] += b[1];
    *re = (a[0][0] + a[0][2]) + (a[0][1] + a[0][3]);
    *im = (b[0][0] + b[0][2]) + (b[0][1] + b[0][3]);
}

/* The phase of the reference counts from the frame's centre; this makes it count from the first sample of the
 * stream. */
static double complex frame_value(struct lds_envelope *e, const double *x)
{
    double re, im;
    correlate(x, e->cosine, e->sine, e->n, &re, &im);
    double cycles = e->cycles * ((double)e->frames++ * (double)e->hop + 0.5 * (double)e->n);
    return (re + I * im) * cexp(-2.0 * M_PI * I * fmod(cycles, 1.0));
}

bool lds_envelope_push(struct lds_envelope *e, const double *x, size_t n, lds_envelope_frame *on_frame, void *context)
{
    while (n > 0) {
        size_t taken;
        const double *window = lds_sliding_push(&e->sliding, x, n, &taken);
        if (window && !on_frame(context, frame_value(e, window)))
            return false;
        x += taken;
        n -= taken;
    }
    return true;
}
