/* Words of a job sheet. */
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
