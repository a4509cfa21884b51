/* Reads a text file line by line in constant memory. */
#ifndef LDS_CAPTURE_LINES_H
#define LDS_CAPTURE_LINES_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

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
