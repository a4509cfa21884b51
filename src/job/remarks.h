/* Growing lists of lines. */
#ifndef LDS_JOB_REMARKS_H
#define LDS_JOB_REMARKS_H

#include <stdbool.h>

#include "loadside/job.h"

/* Appends a line. false: no memory, which is also noted (scarce.h); the list is unchanged. */
bool lds_remark(struct lds_remarks *remarks, const char *format, ...) __attribute__((format(printf, 2, 3)));

#endif
