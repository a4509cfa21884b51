/* Files for tests of capture reading, in a temporary folder that is removed when the test ends. */
#ifndef TESTS_CAPTURE_FILES_H
#define TESTS_CAPTURE_FILES_H

#include <sndfile.h>
#include <stddef.h>

#include "loadside/capture.h"

/* cmocka group set-up and tear-down. */
int files_setup(void **state);
int files_teardown(void **state);

/* Path of that name in the folder; valid for the next three calls. */
const char *files_path(const char *name);

/* Writes bytes, or text, under a name. Returns the path. */
const char *files_write(const char *name, const void *bytes, size_t count);
const char *files_text(const char *name, const char *text);

/* Writes a sound file of libsndfile's format. Returns the path. */
const char *files_sound(const char *name, int format, int rate_hz, int channels, const double *samples, size_t frames);

/* Keeps the first `count` bytes of a file. */
void files_cut(const char *path, size_t count);
size_t files_size(const char *path);

/* The samples of a capture that must open, read in pieces of `piece` frames; to be freed. */
double *files_read(const char *path, const struct lds_capture_options *options, int64_t piece,
                   struct lds_capture_info *info);

/* Opens and reads it all; that must fail with this status and a single line that contains both words. */
void files_refused(const char *path, const struct lds_capture_options *options, enum lds_status status,
                   const char *word, const char *other);

#endif
