/* A capture taken again has a number of its own. */
#ifndef LDS_JOB_REPEATS_H
#define LDS_JOB_REPEATS_H

#include "job/look.h"
#include "job/remarks.h"

/* Finds captures of one kind with the same number, and repeats with another tone. Recordings of the chain differ in
 * what they record, which is not stated. */
void lds_repeats_check(const struct lds_sheet *sheet, const struct lds_look *look, struct lds_faults *faults);

#endif
