#include "report/whole_folder.h"

#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <stdatomic.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

#include "fail.h"
#include "report/folder_tree.h"
#include "safe_text.h"
#include "whole_file.h"

static const char LIST[] = ".loadside-files"; /* what loadside made in the folder, one path per line */

static enum lds_status fail_folder(struct lds_error *error, const char *path, int reason)
{
    char *name = lds_words_escape(path);
    enum lds_status status = lds_fail(error, LDS_IO, "%s: the folder cannot be made: %s; %schoose another place",
                                      name ? name : "the report", strerror(reason),
                                      reason == ENOENT   ? "make the one that it is to stand in, or "
                                      : reason == ENOSPC ? "free some space, or "
                                                         : "");
    free(name);
    return status;
}

/* The path without trailing slashes, links followed. */
static char *bare(const char *path)
{
    char *real = realpath(path, NULL);
    if (real)
        return real;
    size_t length = strlen(path);
    while (length > 1 && path[length - 1] == '/')
        length--;
    return strndup(path, length);
}

/* Splits the path into its parent folder ("" if none is named, else with a slash) and its name. */
static int parent_length(const char *path)
{
    const char *slash = strrchr(path, '/');
    return slash ? (int)(slash - path + 1) : 0;
}

/* ---- the list of loadside's own files ---- */

static bool read_list(const char *folder, struct lds_file_list *list)
{
    char *path = lds_path_in(folder, "%s", LIST), *line = NULL;
    FILE *in = path ? fopen(path, "re") : NULL;
    size_t size = 0;
    bool enough = path != NULL;
    *list = (struct lds_file_list){0};
    free(path);
    for (ssize_t length; in && enough && (length = getline(&line, &size, in)) > 0;) {
        line[strcspn(line, "\n")] = '\0';
        enough = lds_file_list_add(list, line, NULL) == LDS_OK;
    }
    free(line);
    if (in)
        fclose(in);
    if (!enough)
        lds_file_list_free(list);
    return enough;
}

/* Every file that is in the new folder now, and the list itself, in the order that bsearch needs. */
static enum lds_status write_list(const char *folder, struct lds_error *error)
{
    struct lds_file_list list;
    struct lds_whole_file file;
    char *path = lds_path_in(folder, "%s", LIST);
    enum lds_status status = path ? lds_tree_list(folder, &list, error) : lds_fail_memory(error, "the report");
    if (status) {
        free(path);
        return status;
    }
    status = lds_file_list_add(&list, LIST, error);
    if (!status)
        status = lds_whole_file_open(&file, path, error);
    if (!status) {
        lds_file_list_sort(&list);
        for (size_t i = 0; i < list.count; i++)
            fprintf(file.out, "%s\n", list.file[i]);
        status = lds_whole_file_commit(&file, error);
    }
    lds_file_list_free(&list);
    free(path);
    return status;
}

/* ---- before ---- */

enum lds_status lds_whole_folder_check(const char *path, struct lds_error *error)
{
    struct stat info;
    struct lds_file_list list;
    if (lstat(path, &info) != 0)
        return LDS_OK; /* to be made */
    char *name = lds_words_escape(path);
    enum lds_status status = LDS_OK;
    if (stat(path, &info) != 0 || !S_ISDIR(info.st_mode)) {
        status = lds_fail(error, LDS_IO, "%s: is not a folder; one for the report expected; name another place",
                          name ? name : "the report");
    } else if ((status = lds_tree_list(path, &list, error)) == LDS_OK) {
        if (list.count > 0 && !lds_file_list_holds(&list, LIST))
            status = lds_fail(error, LDS_BAD_USE,
                              "%s: holds files and no report of loadside; an empty folder, an older report or a new "
                              "name expected; choose another with --out",
                              name ? name : "the folder");
        lds_file_list_free(&list);
    }
    free(name);
    return status;
}

/* A folder of that name that no run uses. It is locked until the descriptor is closed; -1: in use, or gone. */
static int lock_folder(const char *path)
{
    struct stat held, there;
    int fd = open(path, O_RDONLY | O_DIRECTORY | O_NOFOLLOW | O_CLOEXEC);
    if (fd < 0)
        return -1;
    if (flock(fd, LOCK_EX | LOCK_NB) == 0 && fstat(fd, &held) == 0 && lstat(path, &there) == 0 &&
        held.st_ino == there.st_ino && held.st_dev == there.st_dev)
        return fd;
    close(fd);
    return -1;
}

static bool ends_with(const char *text, const char *end)
{
    size_t length = strlen(text), tail = strlen(end);
    return length >= tail && strcmp(text + length - tail, end) == 0;
}

/* A run that was killed leaves its new folder (".part"), or, where folders cannot be exchanged at once, the old one
 * (".old"), which is put back unless something has taken its place. */
static void clear_one(const struct lds_whole_folder *folder, const char *path)
{
    struct stat info;
    int fd = lock_folder(path);
    if (fd < 0)
        return;
    if (!ends_with(path, ".old") || lstat(folder->path, &info) == 0 || rename(path, folder->path) != 0)
        lds_tree_remove(path);
    close(fd);
}

static void clear_left_overs(const struct lds_whole_folder *folder)
{
    int length = parent_length(folder->path);
    char *parent = length ? strndup(folder->path, (size_t)length) : strdup("."), *begin = NULL;
    if (parent && asprintf(&begin, ".%s.loadside-", folder->path + length) < 0)
        begin = NULL;
    DIR *stream = parent && begin ? opendir(parent) : NULL;
    for (const struct dirent *entry; stream && (entry = readdir(stream)) != NULL;) {
        if (strncmp(entry->d_name, begin, strlen(begin)) != 0 ||
            (!ends_with(entry->d_name, ".part") && !ends_with(entry->d_name, ".old")))
            continue;
        char *path = lds_path_in(parent, "%s", entry->d_name);
        if (path)
            clear_one(folder, path);
        free(path);
    }
    if (stream)
        closedir(stream);
    free(parent);
    free(begin);
}

static char *beside(const struct lds_whole_folder *folder, unsigned number, const char *suffix)
{
    char *path = NULL;
    int length = parent_length(folder->path);
    if (asprintf(&path, "%.*s.%s.loadside-%ld-%u.%s", length, folder->path, folder->path + length, (long)getpid(),
                 number, suffix) < 0)
        return NULL;
    return path;
}

enum lds_status lds_whole_folder_open(struct lds_whole_folder *folder, const char *path, struct lds_error *error)
{
    static atomic_uint serial;
    *folder = (struct lds_whole_folder){.lock = -1};
    enum lds_status status = lds_whole_folder_check(path, error);
    if (status)
        return status;
    folder->path = bare(path);
    if (!folder->path)
        return lds_fail_memory(error, "the report");
    clear_left_overs(folder);
    int reason = EEXIST;
    for (int attempt = 0; attempt < 100 && folder->lock < 0 && reason == EEXIST; attempt++) {
        free(folder->temporary);
        folder->temporary = beside(folder, atomic_fetch_add(&serial, 1), "part");
        if (!folder->temporary)
            reason = ENOMEM;
        else if (mkdir(folder->temporary, 0777) != 0)
            reason = errno;
        else
            folder->lock = lock_folder(folder->temporary); /* unless another run took it for a left-over */
    }
    if (folder->lock >= 0)
        return LDS_OK;
    free(folder->temporary);
    folder->temporary = NULL;
    status = fail_folder(error, folder->path, reason);
    lds_whole_folder_abandon(folder);
    return status;
}

/* ---- after ---- */

/* Exchanges the new folder with the one that was there, if any; false: not done. *old is then the path of the old one,
 * to be freed, or NULL. */
static bool swap(struct lds_whole_folder *folder, bool stands, char **old)
{
    *old = NULL;
    if (!stands)
        return renameat2(AT_FDCWD, folder->temporary, AT_FDCWD, folder->path, RENAME_NOREPLACE) == 0 ||
               ((errno == EINVAL || errno == ENOSYS) && rename(folder->temporary, folder->path) == 0);
    *old = strdup(folder->temporary);
    if (*old && renameat2(AT_FDCWD, folder->temporary, AT_FDCWD, folder->path, RENAME_EXCHANGE) == 0)
        return true;
    int why = *old ? errno : ENOMEM;
    free(*old);
    *old = beside(folder, 0, "old");
    errno = why;
    if (!*old || (errno != EINVAL && errno != ENOSYS))
        return false;
    if (rename(folder->path, *old) != 0)
        return false;
    if (rename(folder->temporary, folder->path) == 0)
        return true;
    int reason = errno;
    (void)rename(*old, folder->path);
    errno = reason;
    return false;
}

static void sync_parent(const struct lds_whole_folder *folder)
{
    int length = parent_length(folder->path);
    char *parent = length ? strndup(folder->path, (size_t)length) : strdup(".");
    int fd = parent ? open(parent, O_RDONLY | O_DIRECTORY | O_CLOEXEC) : -1;
    if (fd >= 0) {
        (void)fsync(fd);
        close(fd);
    }
    free(parent);
}

static enum lds_status carry(struct lds_whole_folder *folder, const struct stat *info, struct lds_error *error)
{
    struct lds_file_list own;
    if (!read_list(folder->path, &own))
        return lds_fail_memory(error, "the report");
    enum lds_status status = lds_tree_carry(folder->path, folder->temporary, &own, error);
    lds_file_list_free(&own);
    (void)chmod(folder->temporary, info->st_mode & 07777);
    return status;
}

enum lds_status lds_whole_folder_commit(struct lds_whole_folder *folder, struct lds_error *error)
{
    struct stat info;
    char *old = NULL;
    bool stands = stat(folder->path, &info) == 0;
    enum lds_status status = write_list(folder->temporary, error);
    if (!status && stands)
        status = lds_whole_folder_check(folder->path, error);
    if (!status && stands)
        status = carry(folder, &info, error);
    if (!status && !swap(folder, stands, &old))
        status = fail_folder(error, folder->path, errno);
    if (!status) {
        sync_parent(folder);
        if (old)
            lds_tree_remove(old);
        free(folder->temporary);
        folder->temporary = NULL;
    }
    free(old);
    lds_whole_folder_abandon(folder);
    return status;
}

void lds_whole_folder_abandon(struct lds_whole_folder *folder)
{
    if (folder->temporary)
        lds_tree_remove(folder->temporary);
    if (folder->lock >= 0)
        close(folder->lock);
    free(folder->temporary);
    free(folder->path);
    *folder = (struct lds_whole_folder){.lock = -1};
}
