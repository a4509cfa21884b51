/* Headers of a job's captures, looked at before anything is measured. */
#ifndef LDS_JOB_LOOK_H
#define LDS_JOB_LOOK_H

#include <stdbool.h>

#include "job/faults.h"
#include "job/groups.h"
#include "loadside/capture.h"
#include "loadside/job.h"

struct lds_look {
    bool good; /* it can be read */
    struct lds_capture_info info;
    double end_hz; /* how far its figures can reach */
};

/* A look a capture of the sheet, to be freed. What is wrong goes to the faults. NULL: no memory. */
struct lds_look *lds_look_at(const struct lds_sheet *sheet, struct lds_faults *faults);

/* The lowest and highest end of the captures of a group that could be read. */
void lds_look_ends(const struct lds_look *look, const struct lds_captures_of_group *group, double *lowest_hz,
                   double *highest_hz);

/* Whether samples of the capture come to volts. */
bool lds_look_calibrated(const struct lds_look *look, const struct lds_bench *bench);

#endif
