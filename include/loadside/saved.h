/* Reads back results saved as JSON: they can be used wherever a capture can. */
#ifndef LOADSIDE_SAVED_H
#define LOADSIDE_SAVED_H

#include <stdbool.h>

#include "loadside/measurement.h"

#ifdef __cplusplus
extern "C" {
#endif

/* Does the file begin like a JSON object ('{', then '"' or '}', ignoring white space)? Also false when it cannot be
 * read or is not a regular file: reading from a pipe would lose data. */
bool lds_saved_is(const char *path);

/* Reads a "loadside-measurement" of version 1: *measurement becomes an array of *count captures, each to be freed with
 * lds_measurement_free and the array with free. LDS_IO: cannot be read; LDS_BAD_INPUT: not JSON, from another program
 * or version, or a member that is missing, of the wrong type or out of range (the error says where). */
enum lds_status lds_saved_read(const char *path, struct lds_measurement **measurement, size_t *count,
                               struct lds_error *error);

#ifdef __cplusplus
}
#endif
#endif
