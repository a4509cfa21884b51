#include "compare/fact.h"

#include <gsl/gsl_cdf.h>
#include <math.h>
#include <stdlib.h>

#include "compare/statistics.h"
#include "constants.h"

static const double LONGEST_S = 86400.0; /* nobody records longer than a day */

/* The word for a change that is known to be there: it only depends on whether the size is more than what matters. */
static enum lds_word word_of_size(double change, double matters)
{
    if (fabs(change) > matters)
        return change > 0.0 ? LDS_HIGHER : LDS_LOWER;
    return change > 0.0 ? LDS_SLIGHTLY_HIGHER : LDS_SLIGHTLY_LOWER;
}

/* With an open end the size is not known, and the known end must itself be beyond what matters. */
static bool is_more_than_matters(const struct lds_fact *fact, enum lds_word *word)
{
    if (fact->delta.low > fact->matters)
        *word = LDS_HIGHER;
    else if (fact->delta.high < -fact->matters)
        *word = LDS_LOWER;
    else
        return false;
    return true;
}

/* How many times the length would decide it, as a change or as the same: the data's part of u falls with the root of
 * the length, the rest stays. */
static double lengths_needed(const struct lds_fact *fact, double deviate)
{
    const struct lds_delta *d = &fact->delta;
    if (isnan(d->change)) {
        /* The floor falls with the root of the length, and the deviate of the visible side rises accordingly. */
        double floor = pow(10.0, (fact->matters - fact->margin_db) / 10.0);
        double z = gsl_cdf_ugaussian_Qinv(fmin(fmax(0.5 * d->p, 1e-300), 0.4999));
        return fmax(floor, deviate / z * (deviate / z));
    }
    double wanted = fmax(fabs(d->change) / deviate, (fact->matters - fabs(d->change)) / LDS_COVERAGE);
    double spare = wanted * wanted - d->u_fixed * d->u_fixed;
    return spare > 0.0 ? d->u_data * d->u_data / spare : (double)INFINITY;
}

static double length_that_settles(const struct lds_fact *fact, double false_alarm, size_t judged)
{
    double deviate = gsl_cdf_ugaussian_Qinv(0.5 * false_alarm / (judged > 0 ? (double)judged : 1.0));
    double times = lengths_needed(fact, deviate);
    if (fact->from_repeats || !(times * fact->seconds < LONGEST_S))
        return NAN;
    return fmax(times, 1.0) * fact->seconds;
}

void lds_fact_make(const struct lds_pooled *before, const struct lds_pooled *after, struct lds_delta_way way,
                   double matters, double seconds, struct lds_fact *fact)
{
    const struct lds_pooled *side[2] = {before, after};
    *fact = (struct lds_fact){.matters = matters,
                              .from_repeats = way.from_repeats,
                              .seconds = seconds,
                              .p_adjusted = NAN,
                              .word = LDS_UNRESOLVED,
                              .resolve_seconds = NAN};
    for (int s = 0; s < 2; s++) {
        fact->below[s] = isnan(side[s]->mean.value);
        fact->hidden[s] = lds_is_hidden(side[s]);
    }
    lds_delta_find(before, after, way, &fact->delta);
    const struct lds_pooled *seen = fact->below[0] ? after : before, *unseen = fact->below[0] ? before : after;
    fact->margin_db = seen->mean.value - unseen->mean.limit;
}

void lds_fact_decide(struct lds_fact *fact, double false_alarm, size_t judged)
{
    const struct lds_delta *d = &fact->delta;
    fact->resolve_seconds = NAN;
    fact->at_least = false;
    bool hidden = fact->hidden[0] || fact->hidden[1], open = hidden || isnan(d->change);
    bool significant = fact->p_adjusted < false_alarm;
    if (significant && open && is_more_than_matters(fact, &fact->word)) {
        fact->at_least = true;
    } else if (significant && !open) {
        fact->word = word_of_size(d->change, fact->matters);
    } else if (hidden) {
        fact->word = LDS_HIDDEN_BY_CHAIN;
    } else if (d->low > -fact->matters && d->high < fact->matters) {
        fact->word = LDS_SAME;
    } else {
        fact->word = LDS_UNRESOLVED;
        fact->resolve_seconds = length_that_settles(fact, false_alarm, judged);
    }
}

bool lds_facts_decide(struct lds_fact *const *fact, size_t count, double false_alarm)
{
    double *p = calloc(2 * count + 1, sizeof *p);
    size_t judged = 0;
    for (size_t i = 0; p && i < count; i++) {
        p[i] = isnan(fact[i]->matters) ? (double)NAN : fact[i]->delta.p;
        judged += isnan(p[i]) ? 0 : 1;
    }
    bool ok = p && lds_holm(p, p + count, count);
    for (size_t i = 0; ok && i < count; i++) {
        fact[i]->p_adjusted = p[count + i];
        if (!isnan(p[i]))
            lds_fact_decide(fact[i], false_alarm, judged);
    }
    free(p);
    return ok;
}
