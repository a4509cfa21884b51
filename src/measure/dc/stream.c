#include "measure/dc/stream.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "spectrum/sliding.h"

/* The low-pass is two means, over one period of 50 Hz and one of 60 Hz, and a Gaussian: it follows a step without
 * overshoot, and takes out the hum of both. The Gaussian's width makes the whole -3 dB at 10 Hz. */
static const double RATE_HZ = 100.0;
static const double PERIOD_S[2] = {1.0 / 50.0, 1.0 / 60.0};
static const double SIGMA_S = 0.01087;
static const double REACH = 6.0; /* sigmas of the Gaussian on each side: what is cut off is below 1e-8 */

struct lds_dc_stream {
    double start_s, step_s;
    size_t taps; /* odd */
    double *tap;
    struct lds_sliding sliding;
    size_t n, room;
    double *x;
};

/* The second integral of a Gaussian of width sigma. */
static double twice_integrated(double t, double sigma)
{
    return 0.5 * t * (1.0 + erf(t / (M_SQRT2 * sigma))) +
           sigma / sqrt(2.0 * M_PI) * exp(-t * t / (2.0 * sigma * sigma));
}

/* The two means and the Gaussian convolved, not normalised. */
static double kernel(double t)
{
    double a = 0.5 * (PERIOD_S[0] + PERIOD_S[1]), b = 0.5 * (PERIOD_S[0] - PERIOD_S[1]);
    return twice_integrated(t + a, SIGMA_S) - twice_integrated(t + b, SIGMA_S) - twice_integrated(t - b, SIGMA_S) +
           twice_integrated(t - a, SIGMA_S);
}

static double mean_gain(double hz, double period_s)
{
    double x = M_PI * hz * period_s;
    return x == 0.0 ? 1.0 : sin(x) / x;
}

double lds_dc_stream_gain(double hz)
{
    double turns = 2.0 * M_PI * hz * SIGMA_S;
    return mean_gain(hz, PERIOD_S[0]) * mean_gain(hz, PERIOD_S[1]) * exp(-0.5 * turns * turns);
}

struct lds_dc_stream *lds_dc_stream_new(double rate_hz, double start_s, double seconds)
{
    struct lds_dc_stream *s = calloc(1, sizeof *s);
    if (!s)
        return NULL;
    size_t half = (size_t)ceil((0.5 * (PERIOD_S[0] + PERIOD_S[1]) + REACH * SIGMA_S) * rate_hz);
    size_t every = (size_t)fmax(1.0, round(rate_hz / RATE_HZ));
    s->taps = 2 * half + 1;
    s->step_s = (double)every / rate_hz;
    s->start_s = start_s + (double)half / rate_hz;
    s->room = (size_t)(seconds / s->step_s) + 1;
    s->tap = malloc(3 * s->taps * sizeof *s->tap);
    s->x = malloc(s->room * sizeof *s->x);
    if (!s->tap || !s->x) {
        lds_dc_stream_free(s);
        return NULL;
    }
    lds_sliding_init(&s->sliding, s->tap + s->taps, s->taps, every);
    double sum = 0.0;
    for (size_t i = 0; i < s->taps; i++)
        sum += s->tap[i] = kernel(((double)i - (double)half) / rate_hz);
    for (size_t i = 0; i < s->taps; i++)
        s->tap[i] /= sum;
    return s;
}

bool lds_dc_stream_push(struct lds_dc_stream *s, const double *x, size_t n)
{
    while (n > 0) {
        size_t taken;
        const double *window = lds_sliding_push(&s->sliding, x, n, &taken);
        x += taken;
        n -= taken;
        if (!window || s->n == s->room)
            continue;
        double sum = 0.0;
        for (size_t i = 0; i < s->taps; i++)
            sum += s->tap[i] * window[i];
        s->x[s->n++] = sum;
    }
    return true;
}

struct lds_dc_course lds_dc_stream_course(const struct lds_dc_stream *s)
{
    return (struct lds_dc_course){.x = s->x, .n = s->n, .start_s = s->start_s, .step_s = s->step_s};
}

void lds_dc_stream_free(struct lds_dc_stream *s)
{
    if (!s)
        return;
    free(s->tap);
    free(s->x);
    free(s);
}

double lds_dc_course_time(const struct lds_dc_course *course, size_t i)
{
    return course->start_s + (double)i * course->step_s;
}

size_t lds_dc_course_index(const struct lds_dc_course *course, double at_s)
{
    double place = ceil((at_s - course->start_s) / course->step_s - 1e-9);
    return place <= 0.0 ? 0 : place >= (double)course->n ? course->n : (size_t)place;
}

double lds_dc_course_at(const struct lds_dc_course *course, double at_s)
{
    double place = (at_s - course->start_s) / course->step_s;
    if (!(place > 0.0))
        return course->x[0];
    size_t i = (size_t)place;
    if (i + 1 >= course->n)
        return course->x[course->n - 1];
    double part = place - (double)i;
    return (1.0 - part) * course->x[i] + part * course->x[i + 1];
}
