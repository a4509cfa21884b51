/* Lines of a text file, one after the other, in fixed memory. */
#ifndef LDS_CAPTURE_LINES_H
#define LDS_CAPTURE_LINES_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum { LDS_LINE_MAX = 16384 };

struct lds_line_reader {
    int fd;
    int64_t number; /* of the line last given, from 1 */
    bool failed;    /* reading failed (errno tells) */
    bool too_long;  /* a line of more than LDS_LINE_MAX bytes */
    bool has_zero;  /* a line with a byte 0 in it */
    bool ended;
    size_t start, end;
    char buffer[8 * LDS_LINE_MAX + 1];
};

void lds_lines_start(struct lds_line_reader *reader, int fd);

/* The next line, without its end (\n, \r\n or \r) and without a byte order mark; NULL at the end of the file or on
 * failure. It holds until the next call. */
char *lds_lines_next(struct lds_line_reader *reader);

#endif
