/* The same taken again has a number of its own. */
#ifndef LDS_JOB_REPEATS_H
#define LDS_JOB_REPEATS_H

#include "job/faults.h"
#include "job/look.h"

/* Captures of one kind that bear one number, and repeats of what is another tone. Recordings of the chain differ in
 * what they are of, which is not stated. */
void lds_repeats_check(const struct lds_sheet *sheet, const struct lds_look *look, struct lds_faults *faults);

#endif
