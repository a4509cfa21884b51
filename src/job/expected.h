/* What the parts of a sheet imply, beside what was measured. */
#ifndef LDS_JOB_EXPECTED_H
#define LDS_JOB_EXPECTED_H

#include "loadside/job.h"

/* Fills job->expected once everything is measured. false: no memory. */
bool lds_job_expect(struct lds_job *job);

#endif
