/* Units side by side, as they are worked on. */
#ifndef LDS_COMPARE_UNITS_WORK_H
#define LDS_COMPARE_UNITS_WORK_H

#include "compare/work.h"

enum { LDS_UNITS_FEWEST = 4 }; /* units among which one can be called out */

struct lds_unit_work {
    struct lds_seen *seen; /* of each unit */
    struct lds_unit_table *table;
    const struct lds_compare_options *options;
    struct lds_scatter scatter;
    double *scratch;
    bool *judged; /* of each row */
};

/* Finds the unit that stands out in each row, if one does; Holm over the rows of all tables. false: no memory. */
bool lds_units_judge(struct lds_unit_work *const *work, size_t tables);

/* ---- words; false: no memory ---- */

bool lds_units_notes(const struct lds_unit_work *work);
bool lds_units_summary(struct lds_unit_table *table);

/* Balance of the channels of each capture, said where channels are the units. */
bool lds_units_balance(struct lds_unit_table *table, struct lds_side units);

#endif
