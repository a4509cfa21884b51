#include "fail.h"

#include <gsl/gsl_errno.h>
#include <stdarg.h>
#include <stdio.h>

#include "scarce.h"

enum lds_status lds_fail(struct lds_error *error, enum lds_status status, const char *format, ...)
{
    if (error) {
        va_list args;
        va_start(args, format);
        vsnprintf(error->message, sizeof error->message, format, args);
        va_end(args);
        error->status = status;
    }
    return status;
}

enum lds_status lds_fail_memory(struct lds_error *error, const char *what)
{
    (void)lds_scarce_take(); /* is told of now */
    return lds_fail(error, LDS_NO_MEMORY, "out of memory for %s: close other programs, or use a machine with more",
                    what);
}

/* GSL's own way of failing is to abort the program; with its handler off a call returns NAN or NULL instead, which its
 * callers here look at. The handler is one variable for the whole process: it is set once, as the library is loaded,
 * before any thread can measure. A handler that the program has set before stays; one that it sets later counts. */
__attribute__((constructor)) static void keep_gsl_from_aborting(void)
{
    gsl_error_handler_t *found = gsl_set_error_handler_off();
    if (found)
        (void)gsl_set_error_handler(found);
}
