/* A row of a table for one figure: all its numbers in one unit, each with the decimals that its own interval supports,
 * as far as they fit. */
#ifndef LDS_REPORT_ROW_SCALE_H
#define LDS_REPORT_ROW_SCALE_H

#include <stdbool.h>

#include "loadside/compare.h"
#include "report/words.h"

struct lds_row_scale {
    double coarsest; /* smallest half-width, so that numbers fit */
    double reference;
    bool whole;
    char unit[24]; /* with its prefix; "" for a count */
};

/* The columns of the middle and the spread come before that of unit 0. */
enum { LDS_ROW_MIDDLE = -2, LDS_ROW_SPREAD = -1 };

/* Every number of the row is to be narrower than `columns`. */
void lds_row_scale_make(struct lds_row_scale *scale, const struct lds_unit_row *row, int columns);

/* One number; "-" if neither value nor upper limit is known. One far below the others has its own unit. */
struct lds_short lds_row_scale_words(const struct lds_row_scale *scale, const struct lds_unit_row *row, int column);

#endif
