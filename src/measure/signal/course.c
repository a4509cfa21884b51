#include "measure/signal/course.h"

#include <math.h>
#include <stdlib.h>

#include "spectrum/simd.h"
#include "spectrum/window.h"

static const double STRETCH_S = 0.01;
enum { STRETCHES_MOST = 1 << 14, FRAMES_MOST = 160, LANES = 8 };

struct lds_course {
    double rate_hz, bin_hz, scale; /* scale: for |X|^2, so that a sine gives its mean square */
    size_t bins, length, room;     /* length: samples of a stretch; room: how many stretches there may be */
    size_t stretches, held;        /* held: samples of the stretch that is not yet full */
    double sum, square;            /* of that stretch */
    double *sums, *squares;        /* of the full ones */
    int stride;                    /* one in this many frames is used */
    size_t frames;
    struct lds_course_frame frame[FRAMES_MOST + 1];
};

struct lds_course *lds_course_new(const struct lds_plan *plan)
{
    const struct lds_plan_level *level = &plan->level[plan->audio];
    struct lds_course *c = calloc(1, sizeof *c);
    if (!c)
        return NULL;
    double seconds = (double)plan->frames / plan->rate_hz, sum = 0.0;
    c->rate_hz = level->rate_hz;
    c->bin_hz = level->rate_hz / level->n;
    c->bins = (size_t)level->n / 2 + 1;
    for (int i = 0; i < level->n; i++)
        sum += level->window[i];
    c->scale = 2.0 / (sum * sum);
    double frames = seconds * level->rate_hz / level->hop;
    c->stride = (int)fmax(1.0, ceil(frames / FRAMES_MOST));
    c->length = (size_t)ceil(fmax(STRETCH_S, seconds / STRETCHES_MOST) * level->rate_hz);
    c->room = (size_t)(seconds * level->rate_hz / (double)c->length) + 1;
    c->sums = calloc(2 * c->room, sizeof *c->sums);
    if (!c->sums) {
        free(c);
        return NULL;
    }
    c->squares = c->sums + c->room;
    return c;
}

void lds_course_free(void *state)
{
    struct lds_course *course = state;
    if (course)
        free(course->sums);
    free(course);
}

LDS_HOT static void add_sums(const double *restrict x, size_t n, double *sum, double *square)
{
    lds_four s[LANES / 4] = {{0}}, q[LANES / 4] = {{0}};
    size_t i = 0;
    for (; i + LANES <= n; i += LANES)
        for (size_t j = 0; j < LANES / 4; j++) {
            lds_four value = ((const lds_four *)(x + i))[j];
            s[j] += value;
            q[j] += value * value;
        }
    for (; i < n; i++) {
        s[0][0] += x[i];
        q[0][0] += x[i] * x[i];
    }
    for (size_t j = 0; j < LANES; j++) {
        *sum += s[j / 4][j % 4];
        *square += q[j / 4][j % 4];
    }
}

bool lds_course_push(void *state, const double *x, size_t n)
{
    struct lds_course *c = state;
    while (n > 0 && c->stretches < c->room) {
        size_t some = n < c->length - c->held ? n : c->length - c->held;
        add_sums(x, some, &c->sum, &c->square);
        c->held += some;
        x += some;
        n -= some;
        if (c->held < c->length)
            continue;
        c->sums[c->stretches] = c->sum;
        c->squares[c->stretches++] = c->square;
        c->sum = c->square = 0.0;
        c->held = 0;
    }
    return true;
}

/* Sum of |X|^2, and the strongest group of LANES bins. */
LDS_HOT static size_t strongest_group(const double *restrict spectrum, size_t first, size_t end, double *total)
{
    double most = -1.0, sum = 0.0;
    size_t at = first;
    for (size_t i = first; i + LANES <= end; i += LANES) {
        double p[LANES], group = 0.0;
        for (size_t j = 0; j < LANES; j++)
            p[j] =
                spectrum[2 * (i + j)] * spectrum[2 * (i + j)] + spectrum[2 * (i + j) + 1] * spectrum[2 * (i + j) + 1];
        for (size_t j = 0; j < LANES; j++)
            group += p[j];
        sum += group;
        if (group > most) {
            most = group;
            at = i;
        }
    }
    *total = sum;
    return at;
}

static double bin_power(const struct lds_frame *frame, size_t bin)
{
    double re = creal(frame->spectrum[bin]), im = cimag(frame->spectrum[bin]);
    return re * re + im * im;
}

/* Starts above DC's lobe. */
bool lds_course_frame_push(void *state, const struct lds_frame *frame)
{
    struct lds_course *c = state;
    if (frame->index % c->stride != 0 || c->frames > FRAMES_MOST)
        return true;
    struct lds_course_frame *out = &c->frame[c->frames++];
    double enbw = lds_window_enbw(&lds_window_analysis), line = 0.0;
    size_t group = strongest_group((const double *)frame->spectrum, LDS_LOBE_BINS, c->bins, &out->total), peak = group;
    size_t end = group + 2 * LANES < c->bins ? group + 2 * LANES : c->bins;
    for (size_t i = group > LDS_LOBE_BINS + LANES ? group - LANES : LDS_LOBE_BINS; i < end; i++)
        if (bin_power(frame, i) > bin_power(frame, peak))
            peak = i;
    for (size_t i = peak > LDS_LOBE_BINS ? peak - LDS_LOBE_BINS : 0; i <= peak + LDS_LOBE_BINS && i < c->bins; i++)
        line += bin_power(frame, i);
    out->centre_s = frame->centre_s;
    out->frequency_hz = (double)peak * c->bin_hz;
    out->line = line * c->scale / enbw;
    out->total *= c->scale / enbw;
    return true;
}

void lds_course_finish(struct lds_course *c, double start_s, struct lds_course_result *result)
{
    double mean = 0.0, count = fmax(1.0, (double)(c->stretches * c->length));
    for (size_t i = 0; i < c->stretches; i++)
        mean += c->sums[i] / count;
    double n = (double)c->length;
    for (size_t i = 0; i < c->stretches; i++)
        c->squares[i] = fmax(0.0, (c->squares[i] - 2.0 * mean * c->sums[i]) / n + mean * mean);
    *result = (struct lds_course_result){.step_s = n / c->rate_hz,
                                         .start_s = start_s,
                                         .stretches = c->stretches,
                                         .power = c->squares,
                                         .bin_hz = c->bin_hz,
                                         .top_hz = 0.5 * c->rate_hz,
                                         .frames = c->frames,
                                         .frame = c->frame};
}
