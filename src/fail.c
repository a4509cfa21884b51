#include "fail.h"

#include <stdarg.h>
#include <stdio.h>

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
    return lds_fail(error, LDS_NO_MEMORY, "out of memory for %s: close other programs, or use a machine with more",
                    what);
}
