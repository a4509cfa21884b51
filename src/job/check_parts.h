/* What the parts of a check share. Each returns false when there is no memory. */
#ifndef LDS_JOB_CHECK_PARTS_H
#define LDS_JOB_CHECK_PARTS_H

#include "job/groups.h"
#include "job/look.h"

struct check {
    const struct lds_sheet *sheet;
    const struct lds_look *look;
    const struct lds_grouping *grouping;
    struct lds_remarks *missing, *fits;
};

/* Whether each capture matches its role, by the short look. */
bool lds_check_roles(const struct check *check);

/* Whether each power fits the input through which it is recorded. */
bool lds_check_inputs(const struct check *check);

/* Whether each capture has the power that the sheet states and the unit is rated for, by the short look. */
bool lds_check_powers(const struct check *check);

#endif
