/* What the parts of a check share. Each returns false when there is no memory. */
#ifndef LDS_JOB_CHECK_PARTS_H
#define LDS_JOB_CHECK_PARTS_H

#include "job/groups.h"
#include "job/look.h"
#include "job/saved_chains.h"

struct check {
    const struct lds_sheet *sheet;
    const struct lds_look *look;
    const struct lds_grouping *grouping;
    struct lds_remarks *missing, *fits, *captures;
    const struct lds_saved_chains *chains;
};

/* Whether each capture matches its role, by the short look. */
bool lds_check_roles(const struct check *check);

/* What each input takes at the load, and whether the whole supply of the unit would fit it. */
bool lds_check_benches(const struct check *check);

/* The attenuation with which that peak voltage at the load just fits the input, rounded up to three digits. */
double lds_attenuation_for(const struct lds_bench *bench, double peak_v);

/* Which captures are made, and how to make the others. */
bool lds_check_captures(const struct check *check);

/* Whether each power fits the input through which it is recorded. */
bool lds_check_inputs(const struct check *check);

/* Whether each capture has the power that the sheet states and the unit is rated for, by the short look. */
bool lds_check_powers(const struct check *check);

#endif
