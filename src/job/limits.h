/* The limits of a sheet apply to all its groups, but not every group has every figure. */
#ifndef LDS_JOB_LIMITS_H
#define LDS_JOB_LIMITS_H

#include "loadside/job.h"

/* Removes limits that a group cannot judge, such as THD of an idle output, from it
 * if another group judges them. */
void lds_job_limits_place(struct lds_job *job);

#endif
