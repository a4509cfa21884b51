/* Decimal commas in a table whose columns are separated by commas: "0,000125,0,731" is a time and a voltage, but reads
 * as four whole numbers. */
#ifndef LDS_CAPTURE_DECIMAL_COMMAS_H
#define LDS_CAPTURE_DECIMAL_COMMAS_H

#include <stdbool.h>

struct lds_decimal_commas {
    bool possible; /* all rows so far are pairs of what may be before and after a decimal comma */
    bool shown;    /* by something that a whole number never has: "007" after a comma, "-0" before it */
};

void lds_decimal_commas_start(struct lds_decimal_commas *commas, char separator);

/* Looks at a row of the table. Call it until the commas are shown not to be decimal commas. */
void lds_decimal_commas_row(struct lds_decimal_commas *commas, const char *row);

#endif
