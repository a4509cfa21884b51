#include "measure/tone/zoom_segment.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "spectrum/density.h"
#include "spectrum/fft.h"
#include "spectrum/simd.h"
#include "spectrum/window.h"

enum {
    ROUNDS = 2,      /* to find the tone's frequency */
    CLOSE_FROM = 3,  /* bins from the tone: lines nearer than this belong to it; */
    CLOSE_TO = 10,   /* lines beyond this do not disturb it */
    CLOSE_ROUNDS = 2 /* fitting tone and lines in turn */
};

/* How the tone moves over the segment: mean, slope and curvature, as a parabola in t. */
struct course {
    double c[6]; /* of 1, t and t^2 minus its mean: real and imaginary parts */
};

bool lds_zoom_segment_init(struct lds_zoom_segment *segment, size_t n, bool close)
{
    struct lds_zoom_segment *s = segment;
    *s = (struct lds_zoom_segment){.n = n, .shape = malloc(n * sizeof *s->shape)};
    s->work = (double complex *)fftw_alloc_complex(n);
    s->rest = (double complex *)fftw_alloc_complex(n);
    s->scratch = close ? malloc(2 * n * sizeof *s->scratch) : NULL;
    if (!s->shape || !s->work || !s->rest || (close && !s->scratch))
        return false;
    lds_window_fill(&lds_window_analysis, n, s->shape);
    double m2 = 0.0, m4 = 0.0;
    for (size_t i = 0; i < n; i++) {
        double t = 2.0 * (double)i / (double)n - 1.0;
        s->sum += s->shape[i];
        m2 += s->shape[i] * t * t;
        m4 += s->shape[i] * t * t * t * t;
    }
    s->moment[0] = m2 / s->sum;
    s->moment[1] = m4 / s->sum - m2 / s->sum * (m2 / s->sum);
    s->forward = lds_fft_complex((int)n, s->work, FFTW_FORWARD);
    return s->forward != NULL;
}

void lds_zoom_segment_free(struct lds_zoom_segment *segment)
{
    lds_fft_free(segment->forward);
    fftw_free(segment->work);
    fftw_free(segment->rest);
    free(segment->shape);
    free(segment->scratch);
}

/* out = x with its phase turned back by `radians` a sample, counted from the segment's middle. */
LDS_HOT static void turn(const double *restrict x, double *restrict out, size_t n, double radians)
{
    double middle = 0.5 * (double)n, re = cos(radians * middle), im = sin(radians * middle);
    double step_re = cos(radians), step_im = -sin(radians);
    for (size_t i = 0; i < n; i++) {
        out[2 * i] = x[2 * i] * re - x[2 * i + 1] * im;
        out[2 * i + 1] = x[2 * i] * im + x[2 * i + 1] * re;
        double next = re * step_re - im * step_im;
        im = re * step_im + im * step_re;
        re = next;
    }
}

/* Least squares weighted by the window: its first moments about the middle are 0, so that 1, t and t^2 minus its mean
 * are independent. */
LDS_HOT static void fit(const struct lds_zoom_segment *s, const double *restrict x, struct course *course)
{
    const double *restrict weight = s->shape;
    double middle = 0.5 * (double)s->n, mean_square = s->moment[0], sum[6] = {0};
    for (size_t i = 0; i < s->n; i++) {
        double t = (double)i / middle - 1.0, a = weight[i] * x[2 * i], b = weight[i] * x[2 * i + 1];
        double q = t * t - mean_square;
        sum[0] += a;
        sum[1] += b;
        sum[2] += t * a;
        sum[3] += t * b;
        sum[4] += q * a;
        sum[5] += q * b;
    }
    for (int i = 0; i < 2; i++) {
        course->c[i] = sum[i] / s->sum;
        course->c[2 + i] = sum[2 + i] / s->sum / s->moment[0];
        course->c[4 + i] = sum[4 + i] / s->sum / s->moment[1];
    }
}

/* work = the transform of x without the tone, windowed. */
LDS_HOT static void take_out(const struct lds_zoom_segment *s, const double *restrict x, const struct course *course)
{
    double *restrict work = (double *)s->work;
    const double *c = course->c, middle = 0.5 * (double)s->n;
    for (size_t i = 0; i < s->n; i++) {
        double t = (double)i / middle - 1.0, q = t * t - s->moment[0];
        work[2 * i] = s->shape[i] * (x[2 * i] - c[0] - c[2] * t - c[4] * q);
        work[2 * i + 1] = s->shape[i] * (x[2 * i + 1] - c[1] - c[3] * t - c[5] * q);
    }
    fftw_execute(s->forward);
}

static double complex bin_at(const struct lds_zoom_segment *s, long k)
{
    long n = (long)s->n;
    return s->work[((k % n) + n) % n];
}

static double power_at(const struct lds_zoom_segment *s, long k)
{
    double complex bin = bin_at(s, k);
    return creal(bin) * creal(bin) + cimag(bin) * cimag(bin);
}

/* The strongest bin within a lobe's width of where the tone is expected, in cycles a sample. */
static double strongest(const struct lds_zoom_segment *s, const double *x, double offset)
{
    static const struct course nothing = {0};
    take_out(s, x, &nothing);
    long expected = lround(offset * (double)s->n), best = expected;
    for (long k = expected - 2 * LDS_LOBE_BINS; k <= expected + 2 * LDS_LOBE_BINS; k++)
        if (power_at(s, k) > power_at(s, best))
            best = k;
    return (double)best / (double)s->n;
}

/* Brings the tone to 0 Hz. A fit shows how far its frequency is off: the imaginary part of slope over mean. */
static void bring_down(const struct lds_zoom_segment *s, const double *x, double cycles, struct course *course)
{
    for (int round = 0; round <= ROUNDS; round++) {
        turn(x, (double *)s->rest, s->n, 2.0 * M_PI * cycles);
        fit(s, (const double *)s->rest, course);
        const double *c = course->c;
        double square = c[0] * c[0] + c[1] * c[1];
        if (square > 0.0)
            cycles += (c[0] * c[3] - c[1] * c[2]) / square / (M_PI * (double)s->n);
    }
}

/* Subtracts from x the strongest line in bins [from, to] of the transform, counted from the tone. For a line d bins
 * above bin k the powers of the two neighbours have the ratio W(1 - d)^2/W(1 + d)^2; near its top the lobe is close to
 * exp(-a d^2) with a = -ln W(1)^2 / 2. */
static void take_line_off(const struct lds_zoom_segment *s, long from, long to, double *x)
{
    long best = from;
    for (long k = from; k <= to; k++)
        if (power_at(s, k) > power_at(s, best))
            best = k;
    double below = power_at(s, best - 1), above = power_at(s, best + 1), at = power_at(s, best);
    if (!(below > 0.0) || !(above > 0.0) || below > at || above > at)
        return;
    double step = -4.0 * log(lds_window_transform(&lds_window_analysis, 1.0));
    double d = fmin(fmax(log(above / below) / (2.0 * step), -0.5), 0.5);
    double complex amplitude =
        bin_at(s, best) / (s->sum * lds_window_transform(&lds_window_analysis, d)) * cexp(-I * M_PI * d);
    double radians = 2.0 * M_PI * ((double)best + d) / (double)s->n;
    double re = creal(amplitude), im = cimag(amplitude), step_re = cos(radians), step_im = sin(radians);
    for (size_t i = 0; i < s->n; i++) {
        x[2 * i] -= re;
        x[2 * i + 1] -= im;
        double next = re * step_re - im * step_im;
        im = re * step_im + im * step_re;
        re = next;
    }
}

/* A line within a few bins of the tone disturbs the fit of the tone, and the fit takes some of the line. So the tone is
 * fitted again to what is left after the strongest line on either side is subtracted. */
static void fit_without_lines(const struct lds_zoom_segment *s, struct course *course)
{
    for (int round = 0; round < CLOSE_ROUNDS; round++) {
        take_out(s, (const double *)s->rest, course);
        memcpy(s->scratch, s->rest, s->n * sizeof *s->rest);
        take_line_off(s, CLOSE_FROM, CLOSE_TO, s->scratch);
        take_line_off(s, -CLOSE_TO, -CLOSE_FROM, s->scratch);
        fit(s, s->scratch, course);
    }
}

void lds_zoom_segment_add(struct lds_zoom_segment *segment, const double *x, double offset, double *power)
{
    struct lds_zoom_segment *s = segment;
    struct course course;
    bring_down(s, x, strongest(s, x, offset), &course);
    if (s->scratch)
        fit_without_lines(s, &course);
    take_out(s, (const double *)s->rest, &course);
    const double *work = (const double *)s->work;
    for (size_t i = 0; i < s->n; i++)
        power[i] += work[2 * i] * work[2 * i] + work[2 * i + 1] * work[2 * i + 1];
}
