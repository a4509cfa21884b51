/* The limits of a sheet hold for all its groups, but not every group has every figure. */
#ifndef LDS_JOB_LIMITS_H
#define LDS_JOB_LIMITS_H

#include "loadside/job.h"

/* Takes limits that a group cannot judge, as THD of an idle output, out of it when another group judges them, and out
 * of the summary of its comparison. false: no memory. */
bool lds_job_limits_place(struct lds_job *job);

#endif
