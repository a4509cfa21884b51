/* The steps of a job, which run.c takes. */
#ifndef LDS_JOB_STEPS_H
#define LDS_JOB_STEPS_H

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

/* A measurement: as many run at once as there are threads. */
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

/* The limits of a sheet apply to all its groups, but not every group has every figure: removes limits that a group
 * cannot judge, such as THD of an idle output, from it if another group judges them. */
void lds_job_limits_place(struct lds_job *job);

/* Fills job->expected, what the parts of the sheet imply beside what was measured, once everything is measured. false:
 * no memory. */
bool lds_job_expect(struct lds_job *job);

#endif
