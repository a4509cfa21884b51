/* How a function of the library reports what went wrong. */
#ifndef LDS_FAIL_H
#define LDS_FAIL_H

#include "loadside/error.h"

/* Fills error (may be NULL) and returns status. */
enum lds_status lds_fail(struct lds_error *error, enum lds_status status, const char *format, ...)
    __attribute__((format(printf, 3, 4)));

/* "out of memory", with what it was needed for. */
enum lds_status lds_fail_memory(struct lds_error *error, const char *what);

#endif
