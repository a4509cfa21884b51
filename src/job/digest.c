#include "job/digest.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "fail.h"
#include "grow.h"
#include "job/path_between.h"

enum { BLOCK = 1 << 16 };

bool lds_is_stream(const char *path)
{
    struct stat info;
    if (strcmp(path, "-") == 0)
        return true;
    return stat(path, &info) == 0 && !S_ISREG(info.st_mode) && !S_ISDIR(info.st_mode);
}

void lds_digest_hex(struct sha256_ctx *sum, char *text)
{
    uint8_t byte[SHA256_DIGEST_SIZE];
    sha256_digest(sum, sizeof byte, byte);
    for (size_t i = 0; i < sizeof byte; i++)
        snprintf(text + 2 * i, 3, "%02x", byte[i]);
}

static enum lds_status digest(const char *path, struct lds_job_file *file, struct lds_error *error)
{
    FILE *in = fopen(path, "re");
    if (!in)
        return lds_fail(error, LDS_IO, "%s: cannot be read again for its SHA-256: %s; leave it where it is", path,
                        strerror(errno));
    struct sha256_ctx context;
    uint8_t *block = malloc(BLOCK);
    sha256_init(&context);
    for (size_t got; block && (got = fread(block, 1, BLOCK, in)) > 0;) {
        sha256_update(&context, got, block);
        file->bytes += (int64_t)got;
    }
    int reason = ferror(in) ? errno : 0;
    bool enough = block != NULL;
    free(block);
    fclose(in);
    if (!enough)
        return lds_fail_memory(error, "a SHA-256");
    if (reason)
        return lds_fail(error, LDS_IO, "%s: cannot be read: %s; repair it or copy it elsewhere", path,
                        strerror(reason));
    lds_digest_hex(&context, file->sha256);
    return LDS_OK;
}

static enum lds_status add(struct lds_job *job, const char *name, const char *path, struct lds_error *error)
{
    for (size_t i = 0; i < job->files; i++)
        if (strcmp(job->file[i].file, name) == 0)
            return LDS_OK;
    char *copy = strdup(name);
    struct lds_job_file *file = copy ? lds_grow(&job->file, &job->files, sizeof *file) : NULL;
    if (!file) {
        free(copy);
        return lds_fail_memory(error, "the list of files");
    }
    file->file = copy;
    return digest(path, file, error);
}

/* A file that the sheet names, relative to the folder of the sheet. */
static enum lds_status add_beside(struct lds_job *job, const char *name, struct lds_error *error)
{
    const char *slash = strrchr(job->sheet->path, '/');
    char *path = NULL;
    int folder = slash && name[0] != '/' ? (int)(slash + 1 - job->sheet->path) : 0;
    if (asprintf(&path, "%.*s%s", folder, job->sheet->path, name) < 0)
        return lds_fail_memory(error, "the list of files");
    enum lds_status status = add(job, name, path, error);
    free(path);
    return status;
}

/* A file that a bench names, listed under its name from the folder of the sheet. */
static enum lds_status add_of_bench(struct lds_job *job, const char *path, struct lds_error *error)
{
    const char *slash = strrchr(path, '/'), *name = slash ? slash + 1 : path;
    char *folder = slash ? strndup(path, (size_t)(name - path)) : strdup(".");
    char *between = folder ? lds_path_between(job->sheet->path, folder) : NULL, *from_sheet = NULL;
    const bool memory = between && asprintf(&from_sheet, "%s%s", between, name) >= 0;
    const enum lds_status status =
        memory ? add(job, from_sheet, path, error) : lds_fail_memory(error, "the list of files");
    free(folder);
    free(between);
    if (memory)
        free(from_sheet);
    return status;
}

enum lds_status lds_digest_files(struct lds_job *job, struct lds_error *error)
{
    const struct lds_sheet *sheet = job->sheet;
    const char *slash = strrchr(sheet->path, '/');
    enum lds_status status = add(job, slash ? slash + 1 : sheet->path, sheet->path, error);
    for (size_t i = 0; !status && i < sheet->captures; i++)
        status = add_beside(job, sheet->capture[i].file, error);
    if (!status && sheet->bench_file)
        status = add_beside(job, sheet->bench_file, error);
    for (size_t i = 0; !status && i < sheet->captures; i++) {
        const char *const file[] = {sheet->capture[i].bench_file, sheet->capture[i].signal_file};
        for (size_t k = 0; !status && k < sizeof file / sizeof *file; k++)
            if (file[k])
                status = add_beside(job, file[k], error);
        if (!status && sheet->capture[i].bench.chain)
            status = add_of_bench(job, sheet->capture[i].bench.chain, error);
    }
    return status;
}
