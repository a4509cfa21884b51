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

/* Finds bytes that do not belong in text. A line ends with a line feed, or a carriage return and a line feed. */
static enum lds_status look_over(FILE *file, const char *path, const char *what, struct lds_error *error)
{
    enum lds_status status = LDS_OK;
    long line = 1, bytes = 0;
    for (int byte, before = 0; !status && (byte = getc(file)) != EOF; before = byte) {
        if (before == '\r' && byte != '\n')
            status = lds_fail(
                error, LDS_BAD_USE,
                "%s:%ld: holds a carriage return within the line; lines that end with a line feed, or with both, "
                "expected: save the file again with such lines",
                path, line);
        else if (byte == '\0')
            status = lds_fail(
                error, LDS_BAD_USE,
                "%s:%ld: holds a byte 0, which text does not; a file of text expected: save it as UTF-8, or name "
                "another",
                path, line);
        else if (++bytes > BYTES_MAX)
            status =
                lds_fail(error, LDS_BAD_USE, "%s: is longer than 1 MiB; %s expected: name the right file", path, what);
        line += byte == '\n';
    }
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
