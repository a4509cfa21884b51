#include "compare/fact.h"

#include <math.h>

#include "compare/statistics.h"
#include "constants.h"
#include "measure/statistics/uncertainty.h"

static double square(double x)
{
    return x * x;
}

static double closed(double limit)
{
    return isfinite(limit) ? limit : (double)NAN;
}

/* How far a change extends on both sides of its estimate; INFINITY: an open end. */
struct reach {
    double down, up;
};

bool lds_is_hidden(const struct lds_pooled *side)
{
    return side->mean.flags & LDS_FLAG_CHAIN_LIMITED;
}

static void open_hidden_ends(const struct lds_pooled *before, const struct lds_pooled *after, bool inverted,
                             struct reach *reach)
{
    if (lds_is_hidden(inverted ? before : after))
        reach->down = INFINITY;
    if (lds_is_hidden(inverted ? after : before))
        reach->up = INFINITY;
}

/* Interval and p, from the half of the interval on the side of no change. If the other half is open, this half is all
 * that is known; if not, a shorter half must not make u smaller. */
static void settle(struct reach reach, struct lds_delta *delta)
{
    double d = delta->change, facing = d > 0.0 ? reach.down : reach.up, away = d > 0.0 ? reach.up : reach.down;
    delta->low = closed(d - reach.down);
    delta->high = closed(d + reach.up);
    double u = facing / lds_coverage(delta->dof);
    if (isfinite(away))
        u = fmax(u, delta->u);
    if (d == 0.0 || !isfinite(facing))
        delta->p = 1.0;
    else
        delta->p = u > 0.0 ? lds_two_sided_p(d / u, delta->dof) : 0.0;
}

/* Limits of a difference from the limits of its parts (MOVER: Zou and Donner 2008, Statistics in Medicine 27, eq. 3): L
 * = d - sqrt((b - l_b)^2 + (h_a - a)^2), with b the part that is added and a the part that is subtracted. Re-cabling on
 * both sides is a further part with symmetric limits. */
static void from_intervals(const struct lds_pooled *before, const struct lds_pooled *after, double u_fixed,
                           struct lds_delta_way way, struct lds_delta *delta)
{
    const struct lds_reading *b = &before->mean, *a = &after->mean;
    const double variance[3] = {square(b->u), square(a->u), square(u_fixed)}, dof[3] = {b->dof, a->dof, INFINITY};
    double fixed = LDS_COVERAGE * u_fixed;
    struct reach reach = {.down = sqrt(square(a->below) + square(b->above) + square(fixed)),
                          .up = sqrt(square(a->above) + square(b->below) + square(fixed))};
    delta->change = a->value - b->value;
    delta->u_data = hypot(b->u, a->u);
    delta->u_fixed = u_fixed;
    delta->u = hypot(delta->u_data, u_fixed);
    delta->dof = lds_effective_dof(variance, dof, 3);
    open_hidden_ends(before, after, way.inverted, &reach);
    settle(reach, delta);
}

/* Half of the interval of repeats towards the known end, where the chain leaves the other end open. It combines the
 * scatter and each capture's own limits on that side; most of these limits comes from the chain, which is the same in
 * all captures, so averaging does not reduce them. */
static double reach_of_repeats(const struct lds_pooled *b, const struct lds_pooled *a, bool up, double u_bench,
                               double dof)
{
    double scatter = sqrt(square(b->scatter) / b->count + square(a->scatter) / a->count + square(u_bench));
    double after = (up ? a->mean.above : a->mean.below) * sqrt(a->count);
    double before = (up ? b->mean.below : b->mean.above) * sqrt(b->count);
    return sqrt(square(lds_coverage(dof) * scatter) + square(after) + square(before));
}

/* Welch (1947): variances of both sides' means from their own scatter. The variance of a side is never less than that
 * of its captures' own intervals. Its degrees of freedom stay those of its scatter, which is on the safe side. */
static void from_repeats(const struct lds_pooled *b, const struct lds_pooled *a, double u_bench,
                         struct lds_delta_way way, struct lds_delta *delta)
{
    double vb = fmax(square(b->scatter), square(b->u_each)) / b->count;
    double va = fmax(square(a->scatter), square(a->u_each)) / a->count;
    const double variance[3] = {vb, va, square(u_bench)};
    const double dof[3] = {(double)b->count - 1.0, (double)a->count - 1.0, INFINITY};
    delta->change = a->mean.value - b->mean.value;
    delta->u = sqrt(vb + va + square(u_bench));
    delta->dof = lds_effective_dof(variance, dof, 3);
    delta->u_data = 0.0;
    delta->u_fixed = delta->u;
    double half = lds_coverage(delta->dof) * delta->u;
    struct reach reach = {half, half};
    open_hidden_ends(b, a, way.inverted, &reach);
    if (isfinite(reach.up) && !isfinite(reach.down))
        reach.up = reach_of_repeats(b, a, true, u_bench, delta->dof);
    else if (isfinite(reach.down) && !isfinite(reach.up))
        reach.down = reach_of_repeats(b, a, false, u_bench, delta->dof);
    settle(reach, delta);
}

/* A side below the floor only has an upper limit h: 97.5 % of an estimate whose standard deviation is not known. For a
 * line in noise that deviation is at most h/3.4 in amplitude, because no limit is lower than what raw power equal to
 * the mean of the noise gives (sqrt(2) + 1.96 of those standard deviations), and for k standard deviations the limit
 * moves to h (1 + (k - 1.96)/3.2): noncentral chi-square, checked in tests/compare. The visible side has to exceed that
 * at k of its own standard deviations. */
static const double LIMIT_SIGMA = 3.0;

static double clears(double seen_db, double below_db, double u_fixed_db, double limit_db)
{
    double sigma_seen = (1.0 - pow(10.0, -below_db / 20.0)) / LDS_COVERAGE;
    sigma_seen = hypot(sigma_seen, u_fixed_db * M_LN10 / 20.0);
    double limit = pow(10.0, (limit_db - seen_db) / 20.0);
    double z = (1.0 - limit * (1.0 - LDS_COVERAGE / LIMIT_SIGMA)) / (sigma_seen + limit / LIMIT_SIGMA);
    return fmax(0.0, z);
}

/* Scatter that comes from repeats can only be that of the visible side's captures. */
static double seen_scatter(const struct lds_pooled *seen, double *dof)
{
    *dof = seen->count - 1.0;
    return lds_coverage(*dof) / LDS_COVERAGE * seen->scatter / sqrt(seen->count);
}

static void one_below_floor(const struct lds_pooled *before, const struct lds_pooled *after, struct lds_delta_way way,
                            double u_fixed, struct lds_delta *delta)
{
    bool rose = isnan(before->mean.value);
    const struct lds_pooled *seen = rose ? after : before, *unseen = rose ? before : after;
    double dof = INFINITY;
    if (way.from_repeats && seen->count > 2)
        u_fixed = hypot(u_fixed, seen_scatter(seen, &dof));
    double least = seen->mean.value - hypot(seen->mean.below, LDS_COVERAGE * u_fixed) - unseen->mean.limit;
    delta->u = delta->u_data = delta->u_fixed = NAN;
    delta->dof = dof;
    struct reach reach = {0.0, 0.0};
    open_hidden_ends(before, after, way.inverted, &reach);
    bool known = isfinite(rose ? reach.down : reach.up);
    if (rose && known)
        delta->low = closed(least);
    else if (known)
        delta->high = closed(-least);
    delta->p =
        known ? lds_two_sided_p(clears(seen->mean.value, seen->mean.below, u_fixed, unseen->mean.limit), dof) : 1.0;
}

void lds_delta_find(const struct lds_pooled *before, const struct lds_pooled *after, struct lds_delta_way way,
                    struct lds_delta *delta)
{
    const struct lds_reading *b = &before->mean, *a = &after->mean;
    double u_bench = way.shared_bench ? 0.0 : hypot(b->u_bench, a->u_bench);
    double u_rep = way.u_rep * sqrt(1.0 / before->count + 1.0 / after->count);
    double u_fixed = hypot(u_rep, u_bench);
    *delta = (struct lds_delta){.change = NAN, .low = NAN, .high = NAN, .p = NAN, .u = NAN, .dof = NAN};
    if (isnan(b->value) && isnan(a->value))
        return;
    if (isnan(b->value) || isnan(a->value))
        one_below_floor(before, after, way, u_fixed, delta);
    else if (way.from_repeats && before->count > 2 && after->count > 2)
        from_repeats(before, after, u_bench, way, delta);
    else
        from_intervals(before, after, u_fixed, way, delta);
}
