/* The parts of the reader of tables. */
#ifndef LDS_CAPTURE_CSV_PARTS_H
#define LDS_CAPTURE_CSV_PARTS_H

#include <stdbool.h>
#include <stdint.h>

/* Decimal commas in a table whose columns are separated by commas: "0,000125,0,731" is a time and a voltage, but reads
 * as four whole numbers. */
struct lds_decimal_commas {
    bool possible; /* all rows so far are pairs of what may be before and after a decimal comma */
    bool shown;    /* by something that a whole number never has: "007" after a comma, "-0" before it */
};

void lds_decimal_commas_start(struct lds_decimal_commas *commas, char separator);

/* Looks at a row of the table. Call it until the commas are shown not to be decimal commas. */
void lds_decimal_commas_row(struct lds_decimal_commas *commas, const char *row);

struct lds_instant {
    double s;
    double quantum; /* s: weight of the last digit written */
};

/* The rate of a time column, and whether its steps are even. */
struct lds_steady {
    double rate_hz;
    int64_t unsteady_row;       /* from 0; -1: none */
    double found_s, expected_s; /* the step to that row */
};

/* fd: holds count >= 2 instants from its start. Returns 0, or errno when they cannot be read. */
int lds_steady_check(int fd, int64_t count, struct lds_steady *steady);

#endif
