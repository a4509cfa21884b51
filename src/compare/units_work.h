/* Working data of units side by side. */
#ifndef LDS_COMPARE_UNITS_WORK_H
#define LDS_COMPARE_UNITS_WORK_H

#include "compare/work.h"

enum { LDS_UNITS_FEWEST = 4 }; /* with fewer units none can be named */

struct lds_unit_work {
    struct lds_seen *seen; /* of each unit */
    struct lds_unit_table *table;
    const struct lds_compare_options *options;
    struct lds_scatter scatter;
    double *scratch; /* as many as units */
};

/* The unit of a row that is farthest from the others, by more than matters, and its p before adjustment. */
void lds_units_look(const struct lds_unit_work *work, struct lds_unit_row *row);

/* Holm over the rows of all tables: which of those units stand out. false: no memory. */
bool lds_units_judge(struct lds_unit_table *table, size_t tables, double false_alarm);

/* ---- words; false: no memory ---- */

bool lds_units_notes(const struct lds_unit_work *work);
bool lds_units_summary(struct lds_unit_table *table);

/* Balance of the channels of each capture, reported if the channels are the units. */
bool lds_units_balance(struct lds_unit_table *table, struct lds_side units);

#endif
