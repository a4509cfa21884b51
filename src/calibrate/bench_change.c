/* The changes of a bench file. */
#include <errno.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "fail.h"
#include "ini_edit.h"
#include "loadside/calibrate.h"
#include "whole_file.h"

bool lds_calibration_add(struct lds_calibration *calibration, const char *section, const char *key, const char *format,
                         ...)
{
    if (calibration->changes == LDS_BENCH_CHANGES_MAX)
        return false;
    struct lds_bench_change *change = &calibration->change[calibration->changes++];
    va_list arguments;
    *change = (struct lds_bench_change){0};
    snprintf(change->section, sizeof change->section, "%s", section);
    snprintf(change->key, sizeof change->key, "%s", key);
    va_start(arguments, format);
    vsnprintf(change->value, sizeof change->value, format, arguments);
    va_end(arguments);
    return true;
}

/* The whole file; "" when it does not exist. NULL: it cannot be read, or no memory; errno says which. */
static char *read_all(const char *path)
{
    FILE *in = fopen(path, "re");
    char *text = NULL;
    size_t room = 0;
    if (!in)
        return errno == ENOENT ? strdup("") : NULL;
    if (getdelim(&text, &room, '\0', in) < 0 && !ferror(in)) {
        free(text);
        text = strdup("");
    }
    fclose(in);
    return text;
}

static char *edit_all(char *text, struct lds_calibration *calibration)
{
    for (size_t i = 0; text && i < calibration->changes; i++) {
        struct lds_bench_change *change = &calibration->change[i];
        char *edited = lds_ini_edit(text, change->section, change->key, change->value, change->old, sizeof change->old);
        free(text);
        text = edited;
    }
    return text;
}

enum lds_status lds_bench_file_change(const char *path, struct lds_calibration *calibration, struct lds_error *error)
{
    struct lds_whole_file file;
    errno = 0;
    char *text = read_all(path);
    if (!text)
        return lds_fail(error, LDS_IO, "%s: cannot be read: %s; name a bench file that can be changed", path,
                        strerror(errno ? errno : EIO));
    text = edit_all(text, calibration);
    if (!text)
        return lds_fail_memory(error, "a bench file");
    enum lds_status status = lds_whole_file_open(&file, path, error);
    if (!status) {
        fputs(text, file.out);
        status = lds_whole_file_commit(&file, error);
    }
    free(text);
    return status;
}
