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
    (void)lds_scarce_take(); /* this error reports it */
    return lds_fail(error, LDS_NO_MEMORY, "out of memory for %s: close other programs, or use a machine with more",
                    what);
}

/* By default GSL aborts the program on an error. With its handler off a call returns NAN or NULL instead, which the
 * callers here check. The handler is one variable for the whole process, so it is set once, when the library is loaded
 * and no thread can measure yet. A handler that the program set before stays; one that it sets later is used. */
__attribute__((constructor)) static void keep_gsl_from_aborting(void)
{
    gsl_error_handler_t *found = gsl_set_error_handler_off();
    if (found)
        (void)gsl_set_error_handler(found);
}
