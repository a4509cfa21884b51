/* Text, and rows of numbers in it. */
#ifndef LDS_CAPTURE_TEXT_H
#define LDS_CAPTURE_TEXT_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

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

/* Reads a text file line by line in constant memory. */
enum { LDS_LINE_MAX = 16384 };

struct lds_line_reader {
    int fd;
    int64_t number; /* of the last line returned, from 1 */
    bool failed;    /* reading failed (see errno) */
    bool too_long;  /* a line of more than LDS_LINE_MAX bytes */
    bool has_zero;  /* a line contained a zero byte */
    bool ended;
    size_t start, end;
    char buffer[8 * LDS_LINE_MAX + 1];
};

void lds_lines_start(struct lds_line_reader *reader, int fd);

/* The next line, without its end (\n, \r\n or \r) and without a byte order mark; NULL at the end of the file or on
 * failure. Valid until the next call. */
char *lds_lines_next(struct lds_line_reader *reader);

#endif
