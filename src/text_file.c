#include "text_file.h"

#include <errno.h>
#include <fcntl.h>
#include <stdbool.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "fail.h"

static const long BYTES_MAX = 1L << 20; /* about ten thousand lines; a sheet with a hundred captures has six hundred */

static const char *kind_of(mode_t mode)
{
    return S_ISDIR(mode) ? "a folder" : S_ISFIFO(mode) ? "a pipe" : S_ISSOCK(mode) ? "a socket" : "a device";
}

/* Finds the ends of lines and bytes that do not belong in text. A line ends with a line feed, or a carriage return and
 * a line feed. */
struct looking {
    long line;
    bool returned; /* the previous byte was a carriage return */
};

static enum lds_status look_at(struct looking *at, int byte, const char *path, struct lds_error *error)
{
    bool lost_return = at->returned && byte != '\n' && byte != EOF;
    at->returned = byte == '\r';
    if (lost_return)
        return lds_fail(
            error, LDS_BAD_USE,
            "%s:%ld: holds a carriage return within the line; lines that end with a line feed, or with both, "
            "expected: save the file again with such lines",
            path, at->line);
    if (byte == '\0')
        return lds_fail(
            error, LDS_BAD_USE,
            "%s:%ld: holds a byte 0, which text does not; a file of text expected: save it as UTF-8, or name "
            "another",
            path, at->line);
    at->line += byte == '\n';
    return LDS_OK;
}

static enum lds_status look_over(FILE *file, const char *path, const char *what, struct lds_error *error)
{
    struct looking at = {.line = 1};
    enum lds_status status = LDS_OK;
    long bytes = 0;
    int byte;
    do {
        byte = getc(file);
        status = look_at(&at, byte, path, error);
        if (!status && byte != EOF && ++bytes > BYTES_MAX)
            status =
                lds_fail(error, LDS_BAD_USE, "%s: is longer than 1 MiB; %s expected: name the right file", path, what);
    } while (!status && byte != EOF);
    if (!status && ferror(file))
        return lds_fail(error, LDS_IO, "%s: %s cannot be read: %s; name one that can", path, what, strerror(errno));
    rewind(file);
    return status;
}

enum lds_status lds_text_file_open(const char *path, const char *what, const char *name_one, FILE **file,
                                   struct lds_error *error)
{
    struct stat about;
    *file = NULL;
    int fd = open(path, O_RDONLY | O_CLOEXEC | O_NONBLOCK | O_NOCTTY); /* without waiting for a pipe */
    if (fd < 0)
        return lds_fail(error, LDS_IO, "%s: %s cannot be opened: %s; %s", path, what, strerror(errno), name_one);
    enum lds_status status = LDS_OK;
    if (fstat(fd, &about) != 0)
        status = lds_fail(error, LDS_IO, "%s: %s cannot be opened: %s; %s", path, what, strerror(errno), name_one);
    else if (!S_ISREG(about.st_mode))
        status = lds_fail(error, LDS_IO, "%s: is %s; %s expected, a file of text: name one", path,
                          kind_of(about.st_mode), what);
    else if (!(*file = fdopen(fd, "r")))
        status = lds_fail_memory(error, what);
    if (!*file) {
        close(fd);
        return status;
    }
    status = look_over(*file, path, what, error);
    if (status) {
        fclose(*file);
        *file = NULL;
    }
    return status;
}
