#include "whole_file.h"

#include <errno.h>
#include <fcntl.h>
#include <stdatomic.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "fail.h"
#include "loadside/report.h"
#include "scarce.h"

static enum lds_status fail_write(struct lds_error *error, const char *path, int reason)
{
    char *name = lds_words_escape(path);
    enum lds_status status = lds_fail(error, LDS_IO, "cannot write %s: %s: free some space, or choose another place",
                                      name ? name : "the output", strerror(reason));
    free(name);
    return status;
}

/* The path with links followed, so that the file is replaced and not a link to it; the path itself when nothing is
 * there. */
static char *follow(const char *path)
{
    char *real = realpath(path, NULL);
    return real || errno == ELOOP ? real : strdup(path);
}

/* A new file in the folder of path; with O_EXCL no other file is overwritten. */
static int open_beside(const char *path, mode_t mode, char **temporary)
{
    static atomic_uint serial;
    const char *slash = strrchr(path, '/');
    int folder = slash ? (int)(slash - path + 1) : 0;
    for (int attempt = 0; attempt < 1000; attempt++) {
        unsigned number = atomic_fetch_add(&serial, 1);
        if (asprintf(temporary, "%.*s.loadside-%ld-%u.part", folder, path, (long)getpid(), number) < 0) {
            *temporary = NULL;
            errno = ENOMEM;
            return -1;
        }
        int fd = open(*temporary, O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, mode);
        if (fd >= 0)
            return fd;
        free(*temporary);
        *temporary = NULL;
        if (errno != EEXIST)
            return -1;
    }
    return -1;
}

enum lds_status lds_whole_file_open(struct lds_whole_file *file, const char *path, struct lds_error *error)
{
    *file = (struct lds_whole_file){0};
    if (strcmp(path, "-") == 0) {
        file->standard = true;
        file->path = strdup("standard output");
        if (file->path && lds_scrap_open(&file->scrap)) {
            file->out = file->scrap.out;
            return LDS_OK;
        }
        lds_whole_file_abandon(file);
        return lds_fail_memory(error, "the output");
    }
    if (path[0] == '\0')
        return fail_write(error, "a file without a name", ENOENT);
    file->path = follow(path);
    if (!file->path && errno == ELOOP)
        return fail_write(error, path, ELOOP);
    if (!file->path)
        return lds_fail_memory(error, "the output");
    struct stat there;
    bool stands = stat(file->path, &there) == 0;
    int fd;
    if (stands && !S_ISREG(there.st_mode)) { /* a device or a pipe cannot be renamed over */
        fd = open(file->path, O_WRONLY | O_CLOEXEC | O_NOCTTY);
    } else {
        fd = open_beside(file->path, 0666, &file->temporary);
        if (fd >= 0 && stands)
            (void)fchmod(fd, there.st_mode & 0777);
    }
    if (fd >= 0 && (file->out = fdopen(fd, "w")) != NULL)
        return LDS_OK;
    int reason = errno;
    if (fd >= 0)
        close(fd);
    enum lds_status status = fail_write(error, path, reason);
    lds_whole_file_abandon(file);
    return status;
}

/* Some file systems report a failed write only at the close, so a duplicate of stdout is closed. */
static bool print_standard(const struct lds_scrap *scrap)
{
    errno = 0;
    if (fwrite(scrap->text, 1, scrap->size, stdout) != scrap->size || fflush(stdout) != 0 || ferror(stdout))
        return false;
    int fd = dup(fileno(stdout));
    return fd >= 0 && close(fd) == 0;
}

static bool close_synced(FILE *out, bool sync)
{
    errno = 0; /* the flush comes first: it meets the same full disk again, and gives the reason */
    bool good = fflush(out) == 0 && !ferror(out) && (!sync || fsync(fileno(out)) == 0);
    int reason = errno;
    if (fclose(out) != 0)
        return false;
    errno = reason ? reason : EIO;
    return good;
}

enum lds_status lds_whole_file_commit(struct lds_whole_file *file, struct lds_error *error)
{
    bool good;
    if (file->standard) {
        file->out = NULL;
        (void)lds_scrap_close(&file->scrap); /* which notes what is wrong */
    }
    if (lds_scarce_take()) { /* while it was written */
        lds_whole_file_abandon(file);
        return lds_fail_memory(error, "the output");
    }
    if (file->standard) {
        good = print_standard(&file->scrap);
    } else {
        good = close_synced(file->out, file->temporary != NULL);
        if (good && file->temporary)
            good = rename(file->temporary, file->path) == 0;
    }
    int reason = errno;
    file->out = NULL;
    enum lds_status status = LDS_OK;
    if (!good) {
        status = fail_write(error, file->path, reason);
    } else {
        free(file->temporary);
        file->temporary = NULL;
    }
    lds_whole_file_abandon(file);
    return status;
}

void lds_whole_file_abandon(struct lds_whole_file *file)
{
    if (file->standard && file->out)
        (void)lds_scrap_close(&file->scrap);
    else if (file->out)
        fclose(file->out);
    free(file->scrap.text);
    if (file->temporary)
        unlink(file->temporary);
    free(file->temporary);
    free(file->path);
    *file = (struct lds_whole_file){0};
}
