/* Measurements in parallel: one thread for each, as many at once as there are threads. */
#ifndef LDS_JOB_TASKS_H
#define LDS_JOB_TASKS_H

#include "loadside/job.h"

struct lds_task {
    size_t capture; /* index in the sheet */
    double end_hz;  /* measured up to here, INFINITY: as far as it goes */
    struct lds_measurement *measurement;
    /* filled by lds_tasks_run */
    enum lds_status status;
    struct lds_error error;
};

/* Runs the tasks in their order. When one fails no other is started, and the first in order that failed is reported:
 * the result does not depend on the number of threads. */
enum lds_status lds_tasks_run(const struct lds_sheet *sheet, const struct lds_job_options *options,
                              struct lds_task *task, size_t tasks, struct lds_error *error);

#endif
