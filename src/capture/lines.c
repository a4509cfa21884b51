#include "capture/text.h"

#include <errno.h>
#include <string.h>
#include <unistd.h>

void lds_lines_start(struct lds_line_reader *reader, int fd)
{
    reader->fd = fd;
    reader->number = 0;
    reader->failed = reader->too_long = reader->has_zero = reader->ended = false;
    reader->start = reader->end = 0;
}

static void fill(struct lds_line_reader *reader)
{
    memmove(reader->buffer, reader->buffer + reader->start, reader->end - reader->start);
    reader->end -= reader->start;
    reader->start = 0;
    size_t room = sizeof reader->buffer - 1 - reader->end;
    ssize_t got;
    do
        got = read(reader->fd, reader->buffer + reader->end, room);
    while (got < 0 && errno == EINTR);
    reader->failed = got < 0;
    reader->ended = got <= 0;
    if (got > 0)
        reader->end += (size_t)got;
}

/* The end of the line that begins at start, NULL when it is not in the buffer yet. */
static char *line_end(struct lds_line_reader *reader)
{
    char *start = reader->buffer + reader->start;
    size_t held = reader->end - reader->start;
    char *newline = memchr(start, '\n', held);
    char *carriage = memchr(start, '\r', newline ? (size_t)(newline - start) : held);
    if (carriage && carriage + 1 == reader->buffer + reader->end && !reader->ended)
        return NULL; /* whether \n follows is not known yet */
    return carriage ? carriage : newline;
}

char *lds_lines_next(struct lds_line_reader *reader)
{
    char *end = line_end(reader);
    if (!end && !reader->ended) {
        fill(reader);
        end = line_end(reader);
    }
    if (reader->failed || (!end && reader->start == reader->end))
        return NULL;
    char *line = reader->buffer + reader->start;
    if (!end)
        end = reader->buffer + reader->end;
    if (end - line > LDS_LINE_MAX) {
        reader->too_long = true;
        return NULL;
    }
    if (memchr(line, '\0', (size_t)(end - line))) {
        reader->has_zero = true;
        return NULL;
    }
    char *next = end;
    if (next < reader->buffer + reader->end)
        next += next[0] == '\r' && next + 1 < reader->buffer + reader->end && next[1] == '\n' ? 2 : 1;
    *end = '\0';
    reader->start = (size_t)(next - reader->buffer);
    if (reader->number++ == 0 && !strncmp(line, "\xef\xbb\xbf", 3))
        line += 3;
    return line;
}
