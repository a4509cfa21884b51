/* Sentences of a comparison or a table of units besides its numbers. */
#include <stdarg.h>
#include <stdio.h>

#include "compare/work.h"
#include "grow.h"

bool lds_say(char ***list, size_t *count, const char *format, ...)
{
    char **text = lds_grow(list, count, sizeof *text);
    if (!text)
        return false;
    va_list args;
    va_start(args, format);
    int length = vasprintf(text, format, args);
    va_end(args);
    if (length < 0)
        *text = NULL;
    return length >= 0;
}
