/* A row of a table whose columns hold one figure: its numbers in one unit, each with the decimals that its own interval
 * supports, as many of them as fit. */
#ifndef LDS_REPORT_ROW_SCALE_H
#define LDS_REPORT_ROW_SCALE_H

#include <stdbool.h>
#include <stddef.h>

#include "loadside/compare.h"

struct lds_row_scale {
    double coarsest; /* half-width at the least, so that numbers fit */
    double reference;
    bool whole;
    char unit[24]; /* with its prefix; "" of a count */
};

/* The columns of the middle and the spread stand before that of unit 0. */
enum { LDS_ROW_MIDDLE = -2, LDS_ROW_SPREAD = -1 };

/* Every number of the row is to be narrower than `columns`. */
void lds_row_scale_make(struct lds_row_scale *scale, const struct lds_unit_row *row, int columns);

/* One number; "-" when neither value nor upper limit are known. One far below the others says its own unit. */
void lds_row_scale_write(const struct lds_row_scale *scale, const struct lds_unit_row *row, int column, char *text,
                         size_t size);

#endif
