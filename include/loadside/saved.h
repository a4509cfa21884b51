/* Results saved as JSON, read back: they stand wherever a capture may. */
#ifndef LOADSIDE_SAVED_H
#define LOADSIDE_SAVED_H

#include <stdbool.h>

#include "loadside/measurement.h"

#ifdef __cplusplus
extern "C" {
#endif

/* Does the file begin like a JSON object ('{', then '"' or '}', white space apart)? False also when it cannot be read
 * or is no regular file: a pipe would lose what is read from it. */
bool lds_saved_is(const char *path);

/* Reads a "loadside-measurement" of version 1: *measurement becomes an array of *count captures, each to be freed by
 * lds_measurement_free and the array by free. LDS_IO: cannot be read; LDS_BAD_INPUT: not JSON, another program's or
 * version's, or a member that is missing, of the wrong kind or out of its range (where it stands is named). */
enum lds_status lds_saved_read(const char *path, struct lds_measurement **measurement, size_t *count,
                               struct lds_error *error);

#ifdef __cplusplus
}
#endif
#endif
