/* Text, and rows of numbers in it. */
#ifndef LDS_CAPTURE_TEXT_H
#define LDS_CAPTURE_TEXT_H

#include <stdbool.h>
#include <stddef.h>

enum { LDS_TEXT_LOOK = 4096, LDS_CELLS_MAX = 66 };

/* Whether the start of a file is text: no control characters other than white space. */
bool lds_text_is(const char *start, size_t size);

/* A cell of a row of numbers. */
struct lds_cell {
    double value;   /* NAN or INFINITY where the text says so */
    double quantum; /* weight of the last digit written */
};

/* Splits a line at `separator` (',', ';', '\t', or ' ' for runs of blanks) into numbers. Quotes around a number and one
 * empty cell at the end are allowed, and a comma that is not the separator is a decimal point. Returns the number of
 * cells, 0 when anything in the line is not a number, LDS_CELLS_MAX + 1 when there are more than that. */
int lds_row_read(const char *line, char separator, struct lds_cell cell[LDS_CELLS_MAX]);

/* The separator that splits the line into two or more numbers, '\0' when none does. */
char lds_row_separator(const char *line, struct lds_cell cell[LDS_CELLS_MAX], int *cells);

#endif
