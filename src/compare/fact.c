#include "compare/fact.h"

#include <gsl/gsl_cdf.h>
#include <math.h>

#include "constants.h"

static const double LONGEST_S = 86400.0; /* nobody records for longer than a day */

/* A figure that the chain explains on one side says only how large the amplifier's part can be at most there: the
 * change is open on one end. */
static void open_hidden_ends(struct lds_fact *fact)
{
    bool low = fact->hidden[1], high = fact->hidden[0];
    if (fact->inverted) {
        bool swap = low;
        low = high;
        high = swap;
    }
    if (low)
        fact->delta.low = NAN;
    if (high)
        fact->delta.high = NAN;
}

static bool is_change(const struct lds_fact *fact, enum lds_word *word)
{
    const struct lds_delta *d = &fact->delta;
    bool open = isnan(d->change) || fact->hidden[0] || fact->hidden[1];
    /* With an open end the size is not known, and the end that is must itself lie beyond what matters. */
    double up = open ? d->low : d->change, down = open ? d->high : d->change;
    if (up > fact->matters)
        *word = LDS_HIGHER;
    else if (down < -fact->matters)
        *word = LDS_LOWER;
    else
        return false;
    return true;
}

/* How many times the length settles it: the data's part of u falls with the root of the length, the rest stays. */
static double lengths_needed(const struct lds_fact *fact, double deviate)
{
    const struct lds_delta *d = &fact->delta;
    if (isnan(d->change)) {
        /* The floor falls with the root of the length, the deviate of what clears it rises so. */
        double floor = pow(10.0, (fact->matters - fact->margin_db) / 10.0);
        double z = gsl_cdf_ugaussian_Qinv(fmin(fmax(0.5 * d->p, 1e-300), 0.4999));
        return fmax(floor, deviate / z * (deviate / z));
    }
    double gap = fabs(d->change) - fact->matters;
    double wanted = gap > 0.0 ? fabs(d->change) / deviate : -gap / LDS_COVERAGE;
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

void lds_fact_decide(struct lds_fact *fact, double false_alarm, size_t judged)
{
    const struct lds_delta *d = &fact->delta;
    fact->resolve_seconds = NAN;
    fact->at_least = false;
    bool hidden = fact->hidden[0] || fact->hidden[1];
    if (hidden)
        open_hidden_ends(fact);
    if (fact->p_adjusted < false_alarm && is_change(fact, &fact->word)) {
        fact->at_least = hidden || isnan(d->change);
    } else if (hidden) {
        fact->word = LDS_HIDDEN_BY_CHAIN;
    } else if (d->low > -fact->matters && d->high < fact->matters) {
        fact->word = LDS_SAME;
    } else {
        fact->word = LDS_UNRESOLVED;
        fact->resolve_seconds = length_that_settles(fact, false_alarm, judged);
    }
}
