#include "capture/spool.h"

#include <errno.h>
#include <fcntl.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "fail.h"

enum { COPY_BYTES = 1 << 16 };

const char *lds_spool_folder(void)
{
    const char *folder = getenv("TMPDIR");
    return folder && *folder ? folder : "/tmp";
}

static int open_named(const char *folder)
{
    char path[4096];
    int length = snprintf(path, sizeof path, "%s/loadside-XXXXXX", folder);
    if (length < 0 || (size_t)length >= sizeof path) {
        errno = ENAMETOOLONG;
        return -1;
    }
    int fd = mkostemp(path, O_CLOEXEC);
    if (fd >= 0)
        unlink(path);
    return fd;
}

enum lds_status lds_spool_new(int *fd, struct lds_error *error)
{
    const char *folder = lds_spool_folder();
    *fd = open(folder, O_TMPFILE | O_RDWR | O_CLOEXEC, 0600);
    if (*fd < 0) /* not every file system supports files without a name */
        *fd = open_named(folder);
    if (*fd < 0)
        return lds_fail(error, LDS_IO, "cannot make a temporary file in %s: %s; set TMPDIR to a folder with room",
                        folder, strerror(errno));
    return LDS_OK;
}

static bool write_all(int fd, const char *bytes, size_t count)
{
    while (count > 0) {
        ssize_t written = write(fd, bytes, count);
        if (written < 0 && errno == EINTR)
            continue;
        if (written < 0)
            return false;
        bytes += written;
        count -= (size_t)written;
    }
    return true;
}

static enum lds_status copy(int from, const char *name, int to, int64_t bytes, int64_t *got, struct lds_error *error)
{
    char buffer[COPY_BYTES];
    for (*got = 0; *got < bytes;) {
        size_t wanted = bytes - *got < COPY_BYTES ? (size_t)(bytes - *got) : COPY_BYTES;
        ssize_t more = read(from, buffer, wanted);
        if (more < 0 && errno == EINTR)
            continue;
        if (more < 0)
            return lds_fail(error, LDS_IO, "%s: cannot be read: %s; name a capture that can", name, strerror(errno));
        if (more == 0)
            return LDS_OK;
        if (!write_all(to, buffer, (size_t)more))
            return lds_fail(error, LDS_IO, "cannot keep a copy of %s in %s: %s; set TMPDIR to a folder with room", name,
                            lds_spool_folder(), strerror(errno));
        *got += more;
    }
    return LDS_OK;
}

enum lds_status lds_spool_copy(int from, const char *name, int fd, int64_t bytes, int64_t *got, struct lds_error *error)
{
    *got = 0;
    if (lseek(fd, 0, SEEK_END) < 0)
        return lds_fail(error, LDS_IO, "the temporary copy of %s cannot be written: %s", name, strerror(errno));
    enum lds_status status = copy(from, name, fd, bytes, got, error);
    if (!status && lseek(fd, 0, SEEK_SET) != 0)
        status = lds_fail(error, LDS_IO, "the temporary copy of %s cannot be read: %s", name, strerror(errno));
    return status;
}
