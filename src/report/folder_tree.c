#include "report/folder_tree.h"

#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "fail.h"
#include "grow.h"
#include "safe_text.h"

void lds_file_list_free(struct lds_file_list *list)
{
    for (size_t i = 0; i < list->count; i++)
        free(list->file[i]);
    free(list->file);
    *list = (struct lds_file_list){0};
}

static int compare_names(const void *a, const void *b)
{
    return strcmp(*(char *const *)a, *(char *const *)b);
}

bool lds_file_list_holds(const struct lds_file_list *list, const char *file)
{
    return list->count > 0 && bsearch(&file, list->file, list->count, sizeof *list->file, compare_names);
}

char *lds_path_in(const char *folder, const char *format, ...)
{
    char *name = NULL, *path = NULL;
    va_list args;
    va_start(args, format);
    if (vasprintf(&name, format, args) < 0)
        name = NULL;
    va_end(args);
    if (!name || asprintf(&path, "%s/%s", folder, name) < 0)
        path = NULL;
    free(name);
    return path;
}

static enum lds_status fail_at(struct lds_error *error, const char *what, const char *path)
{
    int reason = errno;
    char *name = lds_words_escape(path);
    enum lds_status status = lds_fail(error, LDS_IO, "%s: cannot be %s: %s; give access to it, or choose another place",
                                      name ? name : "a file of the report", what, strerror(reason));
    free(name);
    return status;
}

enum lds_status lds_file_list_add(struct lds_file_list *list, const char *name, struct lds_error *error)
{
    char *copy = strdup(name);
    char **file = copy ? lds_grow(&list->file, &list->count, sizeof *file) : NULL;
    if (file) {
        *file = copy;
        return LDS_OK;
    }
    free(copy);
    return lds_fail_memory(error, "a list of files");
}

void lds_file_list_sort(struct lds_file_list *list)
{
    if (list->count > 1)
        qsort(list->file, list->count, sizeof *list->file, compare_names);
}

static enum lds_status list_below(const char *folder, const char *below, struct lds_file_list *list,
                                  struct lds_error *error);

static enum lds_status list_entry(const char *folder, const char *below, const struct dirent *entry, int parent,
                                  struct lds_file_list *list, struct lds_error *error)
{
    struct stat info;
    char *name = *below ? lds_path_in(below, "%s", entry->d_name) : strdup(entry->d_name);
    enum lds_status status = LDS_OK;
    if (!name)
        status = lds_fail_memory(error, "a list of files");
    else if (fstatat(parent, entry->d_name, &info, AT_SYMLINK_NOFOLLOW) != 0)
        status = errno == ENOENT ? LDS_OK : fail_at(error, "read", name); /* somebody may have removed it */
    else if (S_ISDIR(info.st_mode))
        status = list_below(folder, name, list, error);
    else
        status = lds_file_list_add(list, name, error);
    free(name);
    return status;
}

/* glibc's fts_open crashes when it finds no memory, so the folders are read one by one. */
static enum lds_status list_below(const char *folder, const char *below, struct lds_file_list *list,
                                  struct lds_error *error)
{
    char *path = *below ? lds_path_in(folder, "%s", below) : strdup(folder);
    DIR *open = path ? opendir(path) : NULL;
    enum lds_status status = LDS_OK;
    if (!path || (!open && errno == ENOMEM))
        status = lds_fail_memory(error, "a list of files");
    else if (!open)
        status = fail_at(error, "read", path);
    for (const struct dirent *entry; !status && (errno = 0, entry = readdir(open)) != NULL;)
        if (strcmp(entry->d_name, ".") != 0 && strcmp(entry->d_name, "..") != 0)
            status = list_entry(folder, below, entry, dirfd(open), list, error);
    if (!status && errno)
        status = fail_at(error, "read", path);
    if (open)
        closedir(open);
    free(path);
    return status;
}

enum lds_status lds_tree_list(const char *folder, struct lds_file_list *list, struct lds_error *error)
{
    *list = (struct lds_file_list){0};
    enum lds_status status = list_below(folder, "", list, error);
    if (status)
        lds_file_list_free(list);
    else
        lds_file_list_sort(list);
    return status;
}

/* Removes what is in the folder; whether there was anything. It allocates nothing, since memory may have run out. */
static bool empty(int folder, int depth);

static bool remove_entry(int folder, const char *name, int depth)
{
    if (strcmp(name, ".") == 0 || strcmp(name, "..") == 0)
        return false;
    if (unlinkat(folder, name, 0) == 0)
        return true;
    int inner = openat(folder, name, O_RDONLY | O_DIRECTORY | O_NOFOLLOW | O_CLOEXEC);
    if (inner < 0)
        return false;
    while (empty(inner, depth + 1)) {
    }
    close(inner);
    return unlinkat(folder, name, AT_REMOVEDIR) == 0;
}

static bool empty(int folder, int depth)
{
    enum { DEPTH_MAX = 64 };
    _Alignas(struct dirent64) char block[4096];
    bool any = false;
    if (depth > DEPTH_MAX || lseek(folder, 0, SEEK_SET) != 0)
        return false;
    for (ssize_t got; (got = getdents64(folder, block, sizeof block)) > 0;)
        for (ssize_t at = 0; at < got;) {
            const struct dirent64 *entry = (const void *)(block + at);
            any = remove_entry(folder, entry->d_name, depth) || any;
            at += entry->d_reclen;
        }
    return any;
}

void lds_tree_remove(const char *folder)
{
    int fd = open(folder, O_RDONLY | O_DIRECTORY | O_NOFOLLOW | O_CLOEXEC);
    if (fd >= 0) {
        while (empty(fd, 0)) { /* a listing may lose its position when entries are removed */
        }
        close(fd);
    }
    (void)rmdir(folder);
}

/* ---- moving files to another folder ---- */

/* Makes the folders of a file below a folder, with the modes of the originals. */
static bool make_folders(const char *from, const char *to, const char *file)
{
    char *part = strdup(file);
    bool good = part != NULL;
    for (char *slash = good ? strchr(part, '/') : NULL; good && slash; slash = strchr(slash + 1, '/')) {
        struct stat info;
        *slash = '\0';
        char *made = lds_path_in(to, "%s", part), *model = lds_path_in(from, "%s", part);
        good = made && model;
        if (good && mkdir(made, 0777) == 0) {
            if (stat(model, &info) == 0)
                (void)chmod(made, info.st_mode & 07777);
        } else if (good) {
            good = errno == EEXIST && stat(made, &info) == 0 && S_ISDIR(info.st_mode);
        }
        free(made);
        free(model);
        *slash = '/';
    }
    free(part);
    return good;
}

static bool copy_bytes(int in, int out)
{
    char block[1 << 16];
    ssize_t got;
    while ((got = read(in, block, sizeof block)) > 0)
        for (ssize_t done = 0, put; done < got; done += put)
            if ((put = write(out, block + done, (size_t)(got - done))) < 0)
                return false;
    return got == 0;
}

static bool copy_file(const char *from, const char *to)
{
    struct stat info;
    int in = open(from, O_RDONLY | O_CLOEXEC | O_NOFOLLOW | O_NONBLOCK), out = -1;
    bool good = in >= 0 && fstat(in, &info) == 0;
    if (good && !S_ISREG(info.st_mode)) {
        errno = ENOTSUP;
        good = false;
    }
    if (good)
        out = open(to, O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, info.st_mode & 0777);
    good = good && out >= 0 && copy_bytes(in, out) && fsync(out) == 0;
    const struct timespec times[2] = {info.st_atim, info.st_mtim};
    if (good)
        (void)futimens(out, times);
    int reason = errno;
    if (out >= 0)
        good = close(out) == 0 && good;
    if (in >= 0)
        close(in);
    errno = reason;
    return good;
}

static enum lds_status carry_one(const char *from, const char *to, const char *file, struct lds_error *error)
{
    char *old = lds_path_in(from, "%s", file), *new = lds_path_in(to, "%s", file);
    enum lds_status status = LDS_OK;
    if (!old || !new || !make_folders(from, to, file)) {
        status = old ? fail_at(error, "carried over", old) : lds_fail_memory(error, "a file");
    } else if (linkat(AT_FDCWD, old, AT_FDCWD, new, 0) != 0) {
        if (errno == EEXIST) {
            char *name = lds_words_escape(old);
            status = lds_fail(error, LDS_BAD_USE,
                              "%s: was not made by loadside, and has the name of a file of the report; a name of its "
                              "own expected; rename it, or choose another place",
                              name ? name : "a file");
            free(name);
        } else if (errno == ENOENT) {
            status = LDS_OK; /* somebody removed it in the meantime */
        } else if (!copy_file(old, new)) {
            status = fail_at(error, "carried over", old);
        }
    }
    free(old);
    free(new);
    return status;
}

enum lds_status lds_tree_carry(const char *from, const char *to, const struct lds_file_list *without,
                               struct lds_error *error)
{
    struct lds_file_list list;
    enum lds_status status = lds_tree_list(from, &list, error);
    for (size_t i = 0; !status && i < list.count; i++)
        if (!lds_file_list_holds(without, list.file[i]))
            status = carry_one(from, to, list.file[i], error);
    lds_file_list_free(&list);
    return status;
}
