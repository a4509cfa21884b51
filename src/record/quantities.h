/* The table of quantities: how the numbers in a column of a series are expressed. */
#ifndef LDS_RECORD_QUANTITIES_H
#define LDS_RECORD_QUANTITIES_H

#include "loadside/series.h"

/* How a linear number is written: in volts, in dBFS where the channel is not calibrated, or, in curves, unchanged. */
enum lds_scale_of_levels { LDS_IN_VOLTS, LDS_IN_DBFS, LDS_IN_FULL_SCALES };

struct lds_quantity_row {
    const char *unit[2];   /* not calibrated, calibrated */
    const char *ending[3]; /* of a member's name, by enum lds_scale_of_levels */
    double least, most;    /* outside of these a number is invalid */
    bool stated;           /* it is always known */
    bool level;            /* linear, and printed in dBFS where not calibrated */
};
const struct lds_quantity_row *lds_quantity_row(enum lds_quantity quantity);

#endif
