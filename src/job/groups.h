/* Which captures are compared with each other. */
#ifndef LDS_JOB_GROUPS_H
#define LDS_JOB_GROUPS_H

#include <stdbool.h>

#include "job/look.h"

struct lds_captures_of_group { /* indices of the sheet's captures, in its order */
    size_t count;
    size_t *capture;
};

/* Captures with the same role, power, tone and channel form a group. A bench file used on both sides forms a group of
 * its own: two inputs used side by side. Benches used on one side only are taken together: another input, or another
 * calibration, after the work. */
struct lds_grouping {
    const struct lds_look *look; /* not owned */
    size_t groups;
    struct lds_captures_of_group *group;
};

/* false: no memory. Free it in either case. */
bool lds_grouping_make(struct lds_grouping *grouping, const struct lds_sheet *sheet, const struct lds_look *look);
void lds_grouping_free(struct lds_grouping *grouping);

/* Fills title, slug and lists of the job's groups; its measurements need not be done yet, but must have their
 * places. */
bool lds_groups_fill(struct lds_job *job, const struct lds_grouping *grouping);
void lds_groups_free(struct lds_job *job);

/* The captures of a side as an array, as needed for comparing: shallow copies, to be freed with free. NULL: no memory
 * (never for none). */
struct lds_measurement *lds_side_of_group(const struct lds_measurement *const *capture, size_t count);

#endif
