#include "output.h"

#include <errno.h>
#include <fcntl.h>
#include <limits.h>
#include <poll.h>
#include <signal.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "say.h"

static bool failed_already;

/* Splits path into its folder ("." when it names none) and the name within; false when too long. */
static bool split_path(const char *path, char folder[PATH_MAX], const char **name)
{
    const char *slash = strrchr(path, '/');
    *name = slash ? slash + 1 : path;
    const int length = !slash ? 1 : slash == path ? 1 : (int)(slash - path);
    return snprintf(folder, PATH_MAX, "%.*s", length, slash ? path : ".") < PATH_MAX;
}

static bool say_no_place(const char *subject, const char *path, const char *found)
{
    return say(subject, "'%s': %s; a place that can be written to expected; make it, or name another", path, found);
}

/* The folder that is to hold a new file or folder. */
static bool check_parent(const char *subject, const char *path)
{
    char folder[PATH_MAX];
    const char *name;
    struct stat info;
    if (!split_path(path, folder, &name))
        return say_no_place(subject, path, strerror(ENAMETOOLONG));
    if (stat(folder, &info) != 0 || access(folder, W_OK | X_OK) != 0)
        return say_no_place(subject, path, strerror(errno));
    if (!S_ISDIR(info.st_mode))
        return say_no_place(subject, path, strerror(ENOTDIR));
    return true;
}

/* bare: the path without slashes at its end. */
static bool check_place(const char *subject, const char *path, const char *bare, bool folder)
{
    struct stat info;
    if (stat(bare, &info) != 0)
        return errno == ELOOP ? say_no_place(subject, path, strerror(errno)) : check_parent(subject, bare);
    if (S_ISDIR(info.st_mode) != folder)
        return say_no_place(subject, path, folder ? "not a folder" : "a folder");
    if (access(bare, folder ? W_OK | X_OK : W_OK) != 0)
        return say_no_place(subject, path, strerror(errno));
    return !S_ISREG(info.st_mode) || check_parent(subject, bare);
}

bool output_check_file(const char *subject, const char *path)
{
    return strcmp(path, "-") == 0 || check_place(subject, path, path, false);
}

bool output_check_folder(const char *subject, const char *path)
{
    char bare[PATH_MAX];
    size_t length = strlen(path);
    while (length > 1 && path[length - 1] == '/')
        length--;
    snprintf(bare, sizeof bare, "%.*s", (int)length, path);
    return check_place(subject, path, bare, true);
}

static bool same_inode(const struct stat *one, const struct stat *other)
{
    return one->st_dev == other->st_dev && one->st_ino == other->st_ino;
}

bool output_same_file(const char *path, const char *other)
{
    struct stat one, two;
    if (strcmp(path, "-") == 0 || strcmp(other, "-") == 0)
        return false;
    const bool there = stat(path, &one) == 0, other_there = stat(other, &two) == 0;
    if (there != other_there)
        return false;
    if (there)
        return S_ISREG(one.st_mode) && same_inode(&one, &two);
    char folder[PATH_MAX], other_folder[PATH_MAX];
    const char *name, *other_name;
    return split_path(path, folder, &name) && split_path(other, other_folder, &other_name) &&
           strcmp(name, other_name) == 0 && stat(folder, &one) == 0 && stat(other_folder, &two) == 0 &&
           same_inode(&one, &two);
}

char *output_beside(const char *path, const char *ending)
{
    const char *slash = strrchr(path, '/'), *name = slash ? slash + 1 : path, *point = strrchr(name, '.');
    const size_t length = point && point > name ? (size_t)(point - path) : strlen(path);
    char *beside = NULL;
    return asprintf(&beside, "%.*s%s", (int)length, path, ending) < 0 ? NULL : beside;
}

/* A closed pipe, as in `loadside ... | head`, is not worth a message. */
static bool reader_gone(void)
{
    struct pollfd standard_output = {.fd = STDOUT_FILENO, .events = POLLOUT};
    return poll(&standard_output, 1, 0) == 1 && (standard_output.revents & POLLERR);
}

enum exit_status output_failed(const char *subject, const char *message)
{
    if (!failed_already && !reader_gone())
        say(subject, "%s", message);
    failed_already = true;
    return EXIT_TROUBLE;
}

void output_prepare(void)
{
    (void)signal(SIGXFSZ, SIG_IGN); /* writing a file larger than allowed then returns an error, which is reported */
    for (int fd = STDIN_FILENO; fd <= STDERR_FILENO; fd++)
        if (fcntl(fd, F_GETFD) == -1 && errno == EBADF)
            /* The wrong way round, so that reading or writing fails as it would have. */
            (void)!open("/dev/null", fd == STDIN_FILENO ? O_WRONLY : O_RDONLY);
}

enum exit_status output_close(enum exit_status status)
{
    errno = 0;
    const bool bad = fflush(stdout) != 0 || ferror(stdout);
    const int reason = errno;
    if (bad || fclose(stdout) != 0) {
        char message[256];
        snprintf(message, sizeof message,
                 "%s; a place that takes the results expected; free some room or write elsewhere",
                 strerror(bad ? reason : errno));
        status = output_failed("standard output", message);
    }
    return status;
}
