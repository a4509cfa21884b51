/* Can the recording be trusted: the health figures, and the list of problems. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "measure/analyser.h"
#include "measure/statistics/uncertainty.h"
#include "record/record.h"

static void add_count(struct lds_channel *channel, const char *key, double value)
{
    lds_figure_set_normal(lds_channel_add(channel, key), value, 0.0, INFINITY);
}

static bool make(const struct lds_findings *start, void **state)
{
    *state = lds_health_new(start->info->rate_hz, start->info->bits, start->info->in_volts);
    return *state != NULL;
}

static bool finish(void *state, struct lds_findings *findings)
{
    return lds_health_finish(state, &findings->health);
}

static bool figures(const void *state, struct lds_channel *channel, const struct lds_findings *findings)
{
    (void)state;
    const struct lds_health_result *health = &findings->health;
    channel->problem = calloc(findings->problems + 1, sizeof *channel->problem);
    if (!channel->problem)
        return false;
    channel->problems = findings->problems;
    if (findings->problems > 0)
        memcpy(channel->problem, findings->problem, findings->problems * sizeof *channel->problem);
    add_count(channel, "capture.clipped", (double)health->clipped);
    add_count(channel, "capture.gaps", (double)findings->gaps);
    if (health->bits < 1)
        return lds_channel_add_absent(channel, "capture.bits", "the samples are %s, on no grid of whole steps",
                                      findings->info->in_volts ? "text" : "floating point");
    add_count(channel, "capture.bits", health->bits);
    return true;
}

const struct lds_analyser lds_analyse_health = {
    .make = make, .raw = lds_health_push, .finish = finish, .figures = figures, .free = lds_health_free};
