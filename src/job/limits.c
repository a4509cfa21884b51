/* Which group judges which limit. */
#include "job/steps.h"

#include <stdlib.h>
#include <string.h>

/* Whether the limit could be judged in any group. */
static bool is_answered(const struct lds_job *job, const struct lds_limit_result *limit)
{
    for (size_t g = 0; g < job->groups; g++)
        for (size_t c = 0; c < job->group[g].comparison.channels; c++) {
            const struct lds_compared_channel *channel = &job->group[g].comparison.channel[c];
            for (size_t i = 0; i < channel->limits; i++)
                if (!channel->limit[i].reason && channel->limit[i].kind == limit->kind && channel->limit[i].key &&
                    strcmp(channel->limit[i].key, limit->key) == 0)
                    return true;
        }
    return false;
}

void lds_job_limits_place(struct lds_job *job)
{
    for (size_t g = 0; g < job->groups; g++) {
        for (size_t c = 0; c < job->group[g].comparison.channels; c++) {
            struct lds_compared_channel *channel = &job->group[g].comparison.channel[c];
            size_t kept = 0;
            for (size_t i = 0; i < channel->limits; i++) {
                struct lds_limit_result own = channel->limit[i];
                bool elsewhere = own.reason && is_answered(job, &own);
                channel->limit[i] = (struct lds_limit_result){0};
                if (elsewhere) {
                    free(own.key);
                    free(own.reason);
                } else {
                    channel->limit[kept++] = own;
                }
            }
            channel->limits = kept;
        }
    }
}
