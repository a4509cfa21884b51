/* What the parts of a check share. Each part: false: no memory. */
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

/* Whether each capture holds what its role says, by the short look. */
bool lds_check_roles(const struct check *check);

/* Whether each power fits the input that it is recorded through. */
bool lds_check_inputs(const struct check *check);

/* Whether each capture holds the power that the sheet states, and what the unit is rated for, by the short look. */
bool lds_check_powers(const struct check *check);

#endif
