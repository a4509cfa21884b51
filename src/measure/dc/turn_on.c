#include "measure/dc/turn_on.h"

#include <math.h>

#include "measure/statistics/median.h"

static const double SIGMAS = 10.0;
static const double STOOD_S = 0.1; /* shortest stretch that shows where the output stood before; it also ends this long
                                      before the sample tested */
static const double SURE_S = 0.5;  /* a shorter stretch shows too little of its own scatter */
static const double LASTING_S = 0.2; /* most of this time the output must stay away */
static const double MOSTLY = 0.8;
static const double SECOND_S = 1.0, RISE_S = 0.25, FAST_S = 0.5, PART_S = 0.25;

static size_t samples(const struct lds_dc_course *course, double seconds)
{
    return (size_t)fmax(1.0, round(seconds / course->step_s));
}

static size_t end_after(const struct lds_dc_course *course, size_t i, double seconds)
{
    size_t end = i + samples(course, seconds);
    return end < course->n ? end : course->n;
}

static bool lasts(const struct lds_dc_course *course, size_t i, double mean, double least)
{
    size_t end = i + samples(course, LASTING_S), away = 0;
    if (end > course->n)
        return false;
    for (size_t k = i; k < end; k++)
        away += fabs(course->x[k] - mean) > least;
    return (double)away >= MOSTLY * (double)(end - i);
}

static double largest(const struct lds_dc_course *course, size_t first, size_t end, double from)
{
    double most = 0.0;
    for (size_t i = first; i < end; i++)
        most = fmax(most, fabs(course->x[i] - from));
    return most;
}

/* Scatter of the whole course: the median magnitude of the changes over STOOD_S at 512 places, divided by its value for
 * a normal distribution of unit deviation. */
static double scatter(const struct lds_dc_course *course)
{
    enum { PLACES = 512 };
    double change[PLACES];
    size_t apart = samples(course, STOOD_S), count = 0;
    for (size_t k = 0; k < PLACES && course->n > apart; k++, count++) {
        size_t i = k * (course->n - apart) / PLACES;
        change[k] = fabs(course->x[i + apart] - course->x[i]);
    }
    return count > 0 ? lds_median(change, count) / (0.6745 * M_SQRT2) : 0.0;
}

/* The first departure from the mean of everything up to STOOD_S earlier. Returns its sample; n: there is none. */
static size_t departure(const struct lds_dc_course *course, double least, double *mean)
{
    size_t stood = samples(course, STOOD_S), sure = samples(course, SURE_S);
    double floor = SIGMAS * scatter(course);
    double count = 0.0, square = 0.0;
    *mean = 0.0;
    for (size_t i = 0; i < course->n; i++) {
        if (count >= (double)stood) {
            double bound = fmax(least, SIGMAS * sqrt(square / count));
            bound = count < (double)sure ? fmax(bound, floor) : bound;
            if (fabs(course->x[i] - *mean) > bound && lasts(course, i, *mean, bound))
                return i;
        }
        if (i >= stood) { /* Welford 1962 */
            double x = course->x[i - stood], before = *mean;
            *mean += (x - before) / ++count;
            square += (x - before) * (x - *mean);
        }
    }
    return course->n;
}

/* The length of the path from sample `first` to the end, in means over PART_S, divided by the range of those means. */
static double turns(const struct lds_dc_course *course, size_t first)
{
    size_t part = samples(course, PART_S);
    double low = INFINITY, high = -INFINITY, way = 0.0, last = NAN;
    for (size_t i = first; i + part <= course->n; i += part) {
        double sum = 0.0;
        for (size_t k = i; k < i + part; k++)
            sum += course->x[k] / (double)part;
        way += isnan(last) ? 0.0 : fabs(sum - last);
        low = fmin(low, sum);
        high = fmax(high, sum);
        last = sum;
    }
    return high > low ? way / (high - low) : 0.0;
}

/* Where the course is half way to its largest departure within RISE_S. After a low-pass without delay that is the time
 * of a step. */
static double half_way(const struct lds_dc_course *course, size_t i, double mean)
{
    size_t end = end_after(course, i, RISE_S);
    double half = 0.5 * largest(course, i, end, mean);
    while (i + 1 < end && fabs(course->x[i] - mean) < half)
        i++;
    if (i == 0)
        return lds_dc_course_time(course, 0);
    double here = fabs(course->x[i] - mean), before = fabs(course->x[i - 1] - mean);
    double part = here > before ? fmin(1.0, fmax(0.0, (here - half) / (here - before))) : 0.0;
    return lds_dc_course_time(course, i) - part * course->step_s;
}

void lds_dc_turn_on_find(const struct lds_dc_course *course, double least, struct lds_dc_turn_on *found)
{
    *found = (struct lds_dc_turn_on){.first_s = NAN, .at_s = NAN, .before = NAN};
    if (course->n == 0)
        return;
    size_t i = departure(course, least, &found->before);
    found->found = i < course->n;
    if (!found->found) {
        found->before = NAN;
        size_t end = course->n - course->n / 10 - 1;
        double last = 0.0;
        for (size_t k = end; k < course->n; k++)
            last += course->x[k] / (double)(course->n - end);
        found->step = fabs(course->x[0] - last);
        found->fast = true;
        found->turns = turns(course, 0);
        return;
    }
    found->first_s = lds_dc_course_time(course, i);
    found->at_s = half_way(course, i, found->before);
    found->step = largest(course, i, end_after(course, i, SECOND_S), found->before);
    found->fast = largest(course, i, end_after(course, i, FAST_S), found->before) >= 0.5 * found->step;
    found->turns = turns(course, lds_dc_course_index(course, found->at_s));
}
