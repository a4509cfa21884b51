#include "measure/pair/identical.h"

#include <math.h>

#include "measure/analyser.h"
#include "measure/statistics/uncertainty.h"
#include "record/record.h"

/* Equal samples give sums that are equal to the bit, as they are added in the same order; inverted ones give the same
 * sums with opposite signs. */
static bool same(const struct lds_health_result *a, const struct lds_health_result *b)
{
    return a->rms == b->rms && a->mean == b->mean && a->min == b->min && a->max == b->max &&
           a->sum_cubes == b->sum_cubes;
}

static bool inverted(const struct lds_health_result *a, const struct lds_health_result *b)
{
    return a->rms == b->rms && a->mean == -b->mean && a->min == -b->max && a->max == -b->min &&
           a->sum_cubes == -b->sum_cubes;
}

void lds_identical_find(struct lds_findings *findings, size_t count)
{
    for (size_t c = 0; c < count; c++) {
        bool found = findings[c].health.constant;
        for (size_t d = 0; d < count && !found; d++)
            found = d != c && (same(&findings[c].health, &findings[d].health) ||
                               inverted(&findings[c].health, &findings[d].health));
        findings[c].identical = found                                        ? LDS_IDENTICAL
                                : count < (size_t)findings[c].info->channels ? LDS_OTHERS_NOT_SEEN
                                                                             : LDS_NOT_IDENTICAL;
    }
}

static bool figures(const void *state, struct lds_channel *channel, const struct lds_findings *findings)
{
    (void)state;
    if (findings->identical == LDS_OTHERS_NOT_SEEN)
        return lds_channel_add_absent(channel, "capture.identical", "the other channels were not looked at");
    bool identical = findings->identical == LDS_IDENTICAL;
    lds_figure_set_normal(lds_channel_add(channel, "capture.identical"), identical ? 1.0 : 0.0, 0.0, INFINITY);
    return true;
}

const struct lds_analyser lds_analyse_identical = {.figures = figures};
