/* Checking a sheet before it is run. */
#ifndef LDS_JOB_CHECK_H
#define LDS_JOB_CHECK_H

#include "job/look.h"
#include "job/saved_chains.h"

/* What the check reads. */
struct lds_check_read {
    struct lds_look *look; /* one per capture */
    struct lds_saved_chains chains;
};
void lds_check_read_free(struct lds_check_read *read);

/* lds_job_check for a job that is measured next: leaves out what the measurement can judge better. Free *read, even
 * after an error. */
enum lds_status lds_check_to_run(const struct lds_sheet *sheet, struct lds_check_read *read,
                                 struct lds_remarks *missing, struct lds_error *error);

#endif
