/* The table of quantities: what the numbers of a column of a series are told in. */
#ifndef LDS_RECORD_QUANTITIES_H
#define LDS_RECORD_QUANTITIES_H

#include "loadside/series.h"

/* How a linear number is written: in volts, in dBFS where the channel is not calibrated, or, among the curves, as it
 * is. */
enum lds_scale_of_levels { LDS_IN_VOLTS, LDS_IN_DBFS, LDS_IN_FULL_SCALES };

struct lds_quantity_row {
    const char *unit[2];   /* not calibrated, calibrated */
    const char *ending[3]; /* of a member's name, by enum lds_scale_of_levels */
    double least, most;    /* beyond them it is no number of this kind */
    bool stated;           /* it is never unknown */
    bool level;            /* linear, and printed in dBFS where not calibrated */
};
const struct lds_quantity_row *lds_quantity_row(enum lds_quantity quantity);

#endif
