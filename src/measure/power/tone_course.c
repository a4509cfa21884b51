#include "measure/power/tone_course.h"

#include <math.h>
#include <stdlib.h>

#include "grow.h"

/* The window's main lobe reaches 7 bins, so it does not include DC or the second harmonic. */
static const double PERIODS = 7.0, FRAME_S = 0.03;
enum { OVERLAP = 6 };

bool lds_tone_course_init(struct lds_tone_course *course, double rate_hz, double tone_hz)
{
    size_t hop = (size_t)ceil(fmax(FRAME_S, PERIODS / tone_hz) * rate_hz / OVERLAP);
    *course = (struct lds_tone_course){.frame_s = OVERLAP * (double)hop / rate_hz, .step_s = (double)hop / rate_hz};
    return lds_envelope_init(&course->envelope, rate_hz, tone_hz, OVERLAP * hop, hop);
}

static bool keep(void *context, double complex value)
{
    struct lds_tone_course *course = context;
    double complex *one = lds_grow(&course->value, &course->count, sizeof *one);
    if (one)
        *one = value;
    return one;
}

bool lds_tone_course_push(struct lds_tone_course *course, const double *x, size_t n)
{
    return lds_envelope_push(&course->envelope, x, n, keep, course);
}

void lds_tone_course_free(struct lds_tone_course *course)
{
    lds_envelope_free(&course->envelope);
    free(course->value);
}

double lds_tone_course_s(const struct lds_tone_course *course, double frame)
{
    return 0.5 * course->frame_s + frame * course->step_s;
}

static void frames_between(const struct lds_tone_course *course, double from_s, double to_s, size_t *first, size_t *end)
{
    const double from = ceil((from_s - 0.5 * course->frame_s) / course->step_s);
    const double to = floor((to_s - 0.5 * course->frame_s) / course->step_s) + 1.0;
    *first = (size_t)fmax(from, 0.0);
    *end = (size_t)fmin(fmax(to, 0.0), (double)course->count);
}

double lds_tone_course_level(const struct lds_tone_course *course, double from_s, double to_s)
{
    size_t first, end;
    double sum = 0.0;
    frames_between(course, from_s, to_s, &first, &end);
    for (size_t i = first; i < end; i++)
        sum += cabs(course->value[i]);
    return end > first ? sum / (double)(end - first) : (double)NAN;
}

double lds_tone_course_off_hz(const struct lds_tone_course *course, double from_s, double to_s)
{
    size_t first, end;
    double turns = 0.0, weight = 0.0;
    frames_between(course, from_s, to_s, &first, &end);
    for (size_t i = first; i + 1 < end; i++) {
        const double k = (double)(i - first) + 1.0, w = k * ((double)(end - first) - k);
        turns += w * carg(course->value[i + 1] * conj(course->value[i])) / (2.0 * M_PI);
        weight += w;
    }
    return weight > 0.0 ? turns / weight / course->step_s : (double)NAN;
}
