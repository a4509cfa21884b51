#include "measure/dc/thump.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "fail.h"
#include "measure/dc/lines_out.h"
#include "spectrum/cascade.h"

static const double BEFORE_S = 0.4, AFTER_S = 1.35; /* read around the moment */
static const double SECOND_S = 1.0;
static const double LINES_FROM_S = 0.15; /* after it: lines are looked for from there */
static const double RATE_HZ = 96e3;      /* faster samples are averaged */
static const double BOX_S = 1e-3;        /* for the moment */
static const double SIGMAS = 10.0, LASTING_S = 0.05, MOSTLY = 0.8;
/* Where the capture begins just before the moment: the output stood until the first, and the moment is searched until
 * the second. */
static const double EARLY_S = 0.03, EARLY_TO_S = 0.45;
static const double SEARCH_S = 0.15;   /* beyond where half of the rise is */
static const double LOOSE_S = 0.02;    /* standard uncertainty of a moment known from the slow course alone */
static const double LONGEST_S = 8e-3;  /* of a mean that may stand for the peak */
static const double AGREE = 2.5;       /* standard uncertainties by which peaks of two means may differ */
static const double PEAK_U = 1.5;      /* of a largest value, over that of one value */
static const double LINE_LEAST = 3e-4; /* of the largest sample: smaller lines do not matter */

struct stretch {
    double *x, *y; /* as captured; without the slow changes, and later also without lines */
    size_t n;
    double start_s, step_s;
};

static size_t index_at(const struct stretch *s, double at_s)
{
    double place = ceil((at_s - s->start_s) / s->step_s - 1e-6);
    return place <= 0.0 ? 0 : place >= (double)s->n ? s->n : (size_t)place;
}

static double mean(const double *x, size_t n)
{
    double sum = 0.0;
    for (size_t i = 0; i < n; i++)
        sum += x[i] / (double)n;
    return sum;
}

/* ---- the moment ---- */

/* Means of the samples over BOX_S. */
struct boxes {
    const struct stretch *s;
    size_t samples, count; /* in one; how many */
    double before, bound;  /* their mean before the moment, and 10 standard deviations */
};

static double box_at(const struct boxes *boxes, size_t i)
{
    return mean(boxes->s->x + i * boxes->samples, boxes->samples);
}

/* Makes the boxes. Their mean and scatter before the moment are taken up to stood_to_s. */
static struct boxes make_boxes(const struct stretch *s, double stood_to_s)
{
    struct boxes boxes = {.s = s, .samples = (size_t)fmax(1.0, round(BOX_S / s->step_s))};
    double square = 0.0;
    size_t first = index_at(s, stood_to_s) / boxes.samples;
    boxes.count = s->n / boxes.samples;
    for (size_t i = 0; i < first; i++)
        boxes.before += box_at(&boxes, i) / (double)first;
    for (size_t i = 0; i < first; i++) {
        double off = box_at(&boxes, i) - boxes.before;
        square += off * off / (double)first;
    }
    boxes.bound = first > 0 ? SIGMAS * sqrt(square) : (double)INFINITY;
    return boxes;
}

/* Whether a box, and most of the next ones, depart from the mean before. */
static bool departs(const struct boxes *boxes, size_t i)
{
    size_t lasting = (size_t)round(LASTING_S / (boxes->s->step_s * (double)boxes->samples)), away = 0;
    for (size_t k = i; k < i + lasting && k < boxes->count; k++)
        away += fabs(box_at(boxes, k) - boxes->before) > boxes->bound;
    return fabs(box_at(boxes, i) - boxes->before) > boxes->bound && (double)away >= MOSTLY * (double)lasting;
}

static void set_moment(const struct boxes *boxes, size_t i, struct lds_dc_found *found)
{
    found->on_s = boxes->s->start_s + (double)(i * boxes->samples) * boxes->s->step_s;
    found->u_on_s = BOX_S;
}

/* Searches the samples from the first sign in the slow course on. Where noise hides the moment, that of the slow course
 * is kept. */
static void find_moment(const struct stretch *s, struct lds_dc_found *found)
{
    const struct lds_dc_turn_on *turn_on = &found->turn_on;
    struct boxes boxes = make_boxes(s, turn_on->first_s);
    size_t first = index_at(s, turn_on->first_s) / boxes.samples, end = index_at(s, turn_on->at_s + SEARCH_S);
    found->on_s = turn_on->at_s;
    found->u_on_s = LOOSE_S;
    for (size_t i = first; i < end / boxes.samples; i++)
        if (departs(&boxes, i)) {
            set_moment(&boxes, i, found);
            return;
        }
}

/* For a moment so soon after the start that the slow course does not show it: a jump between neighbouring boxes, away
 * from the first few. A course that only decays from the start has no such jump. */
static void find_early_moment(const struct stretch *s, struct lds_dc_found *found)
{
    struct boxes boxes = make_boxes(s, s->start_s + EARLY_S);
    size_t first = index_at(s, s->start_s + EARLY_S) / boxes.samples, end = index_at(s, s->start_s + EARLY_TO_S);
    for (size_t i = first; i > 0 && i < end / boxes.samples && i + 1 < boxes.count; i++)
        if (departs(&boxes, i) &&
            fabs(box_at(&boxes, i) - box_at(&boxes, i - 1)) + fabs(box_at(&boxes, i + 1) - box_at(&boxes, i)) >
                fmax(boxes.bound, 0.5 * found->turn_on.step)) {
            set_moment(&boxes, i, found);
            found->early = true;
            return;
        }
}

/* ---- the peak ---- */

/* Largest magnitude of means over w samples. */
static double peak_of(const double *x, size_t n, size_t w)
{
    double sum = 0.0, most = 0.0;
    for (size_t i = 0; i < n; i++) {
        sum += x[i];
        if (i >= w)
            sum -= x[i - w];
        if (i + 1 >= w)
            most = fmax(most, fabs(sum));
    }
    return most / (double)w;
}

/* Scatter of means over w samples, from the differences of neighbours. */
static double scatter_of(const double *y, size_t n, size_t w)
{
    double square = 0.0, last = 0.0, pairs = 0.0;
    for (size_t i = 0; i + w <= n; i += w) {
        double now = mean(y + i, w);
        if (i > 0) {
            square += 0.5 * (now - last) * (now - last);
            pairs += 1.0;
        }
        last = now;
    }
    return pairs > 0.0 ? sqrt(square / pairs) : 0.0;
}

/* The peak of ever longer means, as long as it stays the same within the noise (intersection of confidence intervals:
 * Goldenshluger and Nemirovski 1997, from memory). The amount by which the last doubling lowered the peak counts in the
 * uncertainty, since the mean itself lowers it too. */
static void find_peak(const struct stretch *s, struct lds_dc_found *found)
{
    size_t first = index_at(s, found->on_s), end = index_at(s, found->on_s + SECOND_S), middle = (first + end) / 2;
    size_t n = end - first;
    double low = -INFINITY, high = INFINITY, last = NAN, square = 0.0;
    for (size_t i = middle; i < end; i++)
        square += s->y[i] * s->y[i] / (double)(end - middle);
    double one = scatter_of(s->y + middle, end - middle, 1), steady = sqrt(fmax(0.0, square - one * one));
    for (size_t w = 1; (double)w * s->step_s <= LONGEST_S && 8 * w < n; w *= 2) {
        double peak = peak_of(s->x + first, n, w), u = scatter_of(s->y + middle, end - middle, w);
        low = fmax(low, peak - AGREE * u);
        high = fmin(high, peak + AGREE * u);
        if (low > high)
            break;
        found->thump = peak;
        found->u_thump =
            sqrt(PEAK_U * PEAK_U * u * u + (isnan(last) ? 0.0 : (last - peak) * (last - peak)) + steady * steady);
        last = peak;
    }
}

static double power(const double *y, size_t n)
{
    double sum = 0.0;
    for (size_t i = 0; i < n; i++)
        sum += y[i] * y[i];
    return sum;
}

/* Lines are found after the thump and taken out from the moment on. This is undone where they are not there so soon, as
 * hum that begins only when a relay closes. */
static bool take_lines_out(struct stretch *s, double on_s)
{
    size_t first = index_at(s, on_s), end = index_at(s, on_s + SECOND_S);
    size_t from = index_at(s, on_s + 0.3 * LINES_FROM_S), to = index_at(s, on_s + LINES_FROM_S);
    double *kept = malloc(2 * s->n * sizeof *kept), least = LINE_LEAST * peak_of(s->x + first, end - first, 1);
    if (!kept)
        return false;
    memcpy(kept, s->x, s->n * sizeof *kept);
    memcpy(kept + s->n, s->y, s->n * sizeof *kept);
    bool memory = lds_dc_lines_out(s->x, s->y, s->n, to, 1.0 / s->step_s, least);
    if (power(s->y + from, to - from) > power(kept + s->n + from, to - from)) {
        memcpy(s->x, kept, s->n * sizeof *kept);
        memcpy(s->y, kept + s->n, s->n * sizeof *kept);
    }
    free(kept);
    return memory;
}

bool lds_dc_thump(double *x, size_t n, double start_s, double step_s, struct lds_dc_found *found)
{
    struct stretch s = {.x = x, .n = n, .start_s = start_s, .step_s = step_s};
    bool sure = found->turn_on.found && found->turn_on.first_s > EARLY_TO_S;
    if (!sure)
        find_early_moment(&s, found);
    if (found->turn_on.found && !found->early)
        find_moment(&s, found);
    size_t first = index_at(&s, found->on_s), end = index_at(&s, found->on_s + SECOND_S);
    found->thump = found->u_thump = NAN;
    if (end >= n || first >= end)
        return true;
    s.y = malloc(n * sizeof *s.y);
    if (!s.y)
        return false;
    for (size_t i = 0; i < n; i++)
        s.y[i] = x[i] - lds_dc_course_at(&found->course, start_s + (double)i * step_s);
    bool memory = take_lines_out(&s, found->on_s);
    if (memory)
        find_peak(&s, found);
    free(s.y);
    return memory;
}

/* ---- reading ---- */

enum lds_status lds_dc_look(struct lds_capture *capture, int index, struct lds_findings *findings,
                            struct lds_error *error)
{
    struct lds_dc_found *found = &findings->dc;
    if (isnan(found->on_s))
        return LDS_OK;
    const struct lds_capture_info *info = findings->info;
    size_t channels = (size_t)info->channels, together = (size_t)fmax(1.0, floor(info->rate_hz / RATE_HZ));
    int64_t from = (int64_t)fmax(0.0, floor((found->on_s - BEFORE_S) * info->rate_hz));
    int64_t left =
        (int64_t)fmin((double)(info->frames - from), ceil((found->on_s + AFTER_S) * info->rate_hz) - (double)from);
    enum lds_status status = lds_capture_seek(capture, from, error);
    double *block = malloc(LDS_CHUNK * channels * sizeof *block);
    double *x = calloc((size_t)left / together + 1, sizeof *x);
    if (status == LDS_OK && (!block || !x))
        status = lds_fail_memory(error, "the look at the switching on");
    size_t got = 0;
    while (status == LDS_OK && left > 0) {
        int64_t part = 0;
        status = lds_capture_read(capture, block, left < LDS_CHUNK ? left : LDS_CHUNK, &part, error);
        if (status != LDS_OK || part == 0)
            break;
        for (size_t i = 0; i < (size_t)part; i++, got++)
            x[got / together] += block[i * channels + (size_t)index] / (double)together;
        left -= part;
    }
    double step_s = (double)together / info->rate_hz, start_s = (double)from / info->rate_hz;
    start_s += 0.5 * (double)(together - 1) / info->rate_hz;
    if (status == LDS_OK && !lds_dc_thump(x, got / together, start_s, step_s, found))
        status = lds_fail_memory(error, "the look at the switching on");
    if (findings->signal.kind == LDS_SIGNAL_POWER_ON && (found->turn_on.found || found->early))
        findings->signal.delay_s = found->on_s;
    free(block);
    free(x);
    return status;
}
