/* Growing lists of lines, and what is wrong with a sheet: a line for each fault, reported in the order of the sheet's
 * lines. */
#ifndef LDS_JOB_REMARKS_H
#define LDS_JOB_REMARKS_H

#include <stdbool.h>
#include <stddef.h>

#include "loadside/job.h"

/* Appends a line. false: no memory, which is also noted (scarce.h); the list is unchanged. */
bool lds_remark(struct lds_remarks *remarks, const char *format, ...) __attribute__((format(printf, 2, 3)));

struct lds_fault {
    int line;     /* of the sheet; 0: the sheet as a whole */
    size_t order; /* in which they were found */
    char *text;
};

struct lds_faults {
    size_t count;
    struct lds_fault *fault;
    bool no_memory; /* some may be missing */
};

void lds_fault(struct lds_faults *faults, int line, const char *format, ...) __attribute__((format(printf, 3, 4)));

/* Moves the faults, sorted, to the end of the remarks as "path:line: text". false: no memory. */
bool lds_faults_tell(struct lds_faults *faults, const char *path, struct lds_remarks *remarks);

/* Frees the faults that were not reported. */
void lds_faults_free(struct lds_faults *faults);

#endif
