/* Checking a sheet before it is run. */
#ifndef LDS_JOB_CHECK_H
#define LDS_JOB_CHECK_H

#include "job/look.h"

/* lds_job_check for a job that is measured next: leaves out what the measurement can judge better. Free *look, even
 * after an error. */
enum lds_status lds_check_to_run(const struct lds_sheet *sheet, struct lds_look **look, struct lds_remarks *missing,
                                 struct lds_error *error);

#endif
