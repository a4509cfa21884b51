/* Words of a job sheet, and what holds remarks. */
#include <stdlib.h>

#include "loadside/job.h"

const char *lds_role_name(enum lds_role role)
{
    static const char *const NAMES[] = {"idle", "sine", "chain"};
    return NAMES[role];
}

const char *lds_when_name(enum lds_when when)
{
    static const char *const NAMES[] = {"", "before", "after"};
    return NAMES[when];
}

void lds_remarks_free(struct lds_remarks *remarks)
{
    for (size_t i = 0; i < remarks->count; i++)
        free(remarks->line[i]);
    free(remarks->line);
    *remarks = (struct lds_remarks){0};
}
