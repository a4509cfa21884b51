#include "capture/files.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>
#include <dirent.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

static char folder[64];

int files_setup(void **state)
{
    (void)state;
    strcpy(folder, "/tmp/loadside-test-XXXXXX");
    return mkdtemp(folder) ? 0 : -1;
}

int files_teardown(void **state)
{
    (void)state;
    DIR *listing = opendir(folder);
    struct dirent *entry;
    while (listing && (entry = readdir(listing)))
        if (entry->d_name[0] != '.')
            unlinkat(dirfd(listing), entry->d_name, 0);
    if (listing)
        closedir(listing);
    return rmdir(folder);
}

const char *files_path(const char *name)
{
    static char path[4][256];
    static int next;
    char *to = path[next++ % 4];
    snprintf(to, sizeof path[0], "%s/%s", folder, name);
    return to;
}

const char *files_write(const char *name, const void *bytes, size_t count)
{
    const char *path = files_path(name);
    FILE *file = fopen(path, "wb");
    assert_non_null(file);
    assert_int_equal(fwrite(bytes, 1, count, file), count);
    assert_int_equal(fclose(file), 0);
    return path;
}

const char *files_text(const char *name, const char *text)
{
    return files_write(name, text, strlen(text));
}

const char *files_sound(const char *name, int format, int rate_hz, int channels, const double *samples, size_t frames)
{
    const char *path = files_path(name);
    SF_INFO info = {.samplerate = rate_hz, .channels = channels, .format = format};
    SNDFILE *file = sf_open(path, SFM_WRITE, &info);
    if (!file)
        print_error("%s: %s\n", name, sf_strerror(NULL));
    assert_non_null(file);
    bool real = (format & SF_FORMAT_SUBMASK) == SF_FORMAT_FLOAT || (format & SF_FORMAT_SUBMASK) == SF_FORMAT_DOUBLE;
    /* As integers, since libsndfile writes doubles scaled by 2^(b-1) - 1, but reads them scaled by 2^(b-1). */
    size_t count = frames * (size_t)channels;
    int *code = malloc((count + 1) * sizeof *code);
    assert_non_null(code);
    for (size_t i = 0; i < count && !real; i++)
        code[i] = (int)fmin(samples[i] * 0x1p31, 0x1p31 - 1.0);
    sf_count_t wanted = (sf_count_t)frames;
    assert_int_equal(real ? sf_writef_double(file, samples, wanted) : sf_writef_int(file, code, wanted), wanted);
    free(code);
    assert_int_equal(sf_close(file), 0);
    return path;
}

void files_cut(const char *path, size_t count)
{
    assert_int_equal(truncate(path, (off_t)count), 0);
}

size_t files_size(const char *path)
{
    struct stat about;
    assert_int_equal(stat(path, &about), 0);
    return (size_t)about.st_size;
}

double *files_read(const char *path, const struct lds_capture_options *options, int64_t piece,
                   struct lds_capture_info *info)
{
    struct lds_capture *capture;
    struct lds_error error = {0};
    if (lds_capture_open(path, options, &capture, &error))
        fail_msg("%s", error.message);
    *info = *lds_capture_info(capture);
    assert_string_equal(lds_capture_name(capture), path);
    double *samples = malloc((size_t)(info->frames * info->channels) * sizeof *samples);
    double *part = malloc((size_t)(piece * info->channels) * sizeof *part);
    int64_t at = 0, got;
    do {
        if (lds_capture_read(capture, part, piece, &got, &error))
            fail_msg("%s", error.message);
        assert_true(at + got <= info->frames);
        memcpy(samples + at * info->channels, part, (size_t)(got * info->channels) * sizeof *part);
        at += got;
    } while (got > 0);
    assert_int_equal(at, info->frames);
    free(part);
    lds_capture_close(capture);
    return samples;
}

static enum lds_status read_all(struct lds_capture *capture, struct lds_error *error)
{
    enum { PIECE = 1000 };
    double *samples = malloc(PIECE * sizeof *samples * LDS_CHANNELS_MAX);
    int64_t got = 1;
    enum lds_status status = LDS_OK;
    while (!status && got > 0)
        status = lds_capture_read(capture, samples, PIECE, &got, error);
    free(samples);
    return status;
}

void files_refused(const char *path, const struct lds_capture_options *options, enum lds_status status,
                   const char *word, const char *other)
{
    struct lds_capture *capture;
    struct lds_error error = {0};
    enum lds_status found = lds_capture_open(path, options, &capture, &error);
    if (found == LDS_OK) {
        found = read_all(capture, &error);
        lds_capture_close(capture);
    } else {
        assert_null(capture);
    }
    if (found != status || !strstr(error.message, word) || !strstr(error.message, other))
        fail_msg("%s: status %d, '%s'; expected status %d with '%s' and '%s'", path, (int)found, error.message,
                 (int)status, word, other);
    assert_int_equal(error.status, status);
    assert_null(strchr(error.message, '\n'));
}
