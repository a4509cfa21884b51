/* Numbers with decimal commas in a table that separates its columns by commas: "0,000125,0,731" is a time and a
 * voltage, and reads as four whole numbers. */
#ifndef LDS_CAPTURE_DECIMAL_COMMAS_H
#define LDS_CAPTURE_DECIMAL_COMMAS_H

#include <stdbool.h>

struct lds_decimal_commas {
    bool possible; /* every row so far is pairs of what may stand before and after a comma */
    bool shown;    /* by what no whole number has: "007" after a comma, "-0" before it */
};

void lds_decimal_commas_start(struct lds_decimal_commas *commas, char separator);

/* A row of the table, until it is shown that they are none. */
void lds_decimal_commas_row(struct lds_decimal_commas *commas, const char *row);

#endif
