#include "measure/impedance/step.h"

#include <math.h>

#include "measure/impedance/drift.h"
#include "measure/statistics/median.h"

enum { PARTS = 16 /* of the shortest stretch */, MOST = LDS_DRIFT_MOST, FEWEST = 9, FITTED = 3 };
static const double SHOWS = 6.0; /* standard uncertainties of a step: the moments were chosen to make it large */
/* Of the step: a further change of that size means that the load was switched again. */
static const double SECOND = 0.5;
static const double NORMAL = 0.9539; /* median of the magnitude of the difference of two normal variables */
static const double ROUNDING = 1e-9; /* of the logarithm of a level, rad */

struct parts {
    size_t count;
    struct lds_drift_course level, phase;
    int stretch[MOST];
    double frame[MOST]; /* in the middle */
};

/* The mean over frames from first to before last; false: most of the tone is missing. */
static bool add_part(const struct lds_phasors *p, size_t first, size_t last, int stretch, struct parts *parts)
{
    double count = 0.0, time = 0.0, level = 0.0, phase = 0.0;
    const size_t at = parts->count;
    for (size_t i = first; i < last; i++)
        if (!isnan(p->level[i])) {
            level += p->level[i];
            phase += p->phase[i];
            time += (double)i;
            count += 1.0;
        }
    if (at == MOST || count < 0.5 * (double)(last - first))
        return false;
    parts->stretch[at] = stretch;
    parts->frame[at] = time / count;
    parts->level.stepped[at] = parts->phase.stepped[at] = stretch != 1; /* the step is the first load over the second */
    parts->level.value[at] = level / count;
    parts->phase.value[at] = phase / count;
    parts->level.count = parts->phase.count = ++parts->count;
    return true;
}

/* Parts of about the same length in all stretches. Each is at least two frames long, so that neighbours share few
 * samples. */
static void divide(const struct lds_phasors *p, const struct lds_switching *s, struct parts *parts)
{
    double frames[LDS_STRETCHES], shortest = INFINITY, all = 0.0;
    for (int i = 0; i < LDS_STRETCHES; i++) {
        frames[i] = (double)(s->last[i] - s->first[i] + 1);
        shortest = fmin(shortest, frames[i]);
        all += frames[i];
    }
    double length = fmax(shortest / PARTS, 2.0 * p->frame_s / p->step_s);
    length = fmax(fmin(length, shortest / 3.0), all / (MOST - LDS_STRETCHES));
    *parts = (struct parts){0};
    for (int i = 0; i < LDS_STRETCHES; i++) {
        const double pieces = fmax(1.0, floor(frames[i] / length + 1e-9));
        for (double k = 0.0; k < pieces; k += 1.0)
            (void)add_part(p, s->first[i] + (size_t)(frames[i] * k / pieces),
                           s->first[i] + (size_t)(frames[i] * (k + 1.0) / pieces), i, parts);
    }
    for (size_t i = 0; i < parts->count; i++) /* from frames to parts */
        parts->level.time[i] = parts->phase.time[i] = parts->frame[i] / length;
}

/* Change of the level from the part before the previous one, so that a step within the previous part shows in full;
 * NAN: those two parts are not in one stretch. */
static double change_before(const struct parts *parts, size_t i)
{
    if (i < 2 || parts->stretch[i] != parts->stretch[i - 2])
        return NAN;
    return fabs(parts->level.value[i] - parts->level.value[i - 2]);
}

/* Where the level changes again, by about as much as from load to load, and far more than elsewhere. */
static bool steps_again(const struct parts *parts, double step, size_t *at)
{
    double change[MOST], most = 0.0;
    size_t n = 0;
    for (size_t i = 0; i < parts->count; i++) {
        const double one = change_before(parts, i);
        if (isnan(one))
            continue;
        change[n++] = one;
        *at = one > most ? i : *at;
        most = fmax(most, one);
    }
    return n > 0 && most > SECOND * fabs(step) && most > 1.5 * SHOWS * hypot(lds_median(change, n) / NORMAL, ROUNDING);
}

bool lds_step_fit(const struct lds_phasors *phasors, const struct lds_switching *switching, struct lds_step_fit *result)
{
    struct parts parts;
    double level, phase, u[2];
    size_t at = 0;
    divide(phasors, switching, &parts);
    *result = (struct lds_step_fit){.again_s = NAN};
    if (parts.count < FEWEST)
        return true;
    if (!lds_drift_step(&parts.level, ROUNDING, &level, &u[0]) ||
        !lds_drift_step(&parts.phase, ROUNDING, &phase, &u[1]))
        return false;
    result->step = (struct lds_load_step){
        .log_ratio = level + I * phase, .u = {u[0], u[1]}, .dof = (double)(parts.count - FITTED)};
    result->there = fabs(level) > SHOWS * u[0];
    if (steps_again(&parts, level, &at))
        result->again_s = lds_phasors_time(phasors, parts.frame[at - 1]);
    return true;
}
