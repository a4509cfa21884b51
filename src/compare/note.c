/* What a comparison writes down beside its changes. */
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "compare/work.h"
#include "grow.h"

bool lds_note(struct lds_comparison *comparison, const char *format, ...)
{
    char **note = lds_grow(&comparison->note, &comparison->notes, sizeof *note);
    if (!note)
        return false;
    va_list args;
    va_start(args, format);
    int length = vasprintf(note, format, args);
    va_end(args);
    if (length < 0)
        *note = NULL;
    return length >= 0;
}

bool lds_add_absent(struct lds_absent **list, size_t *count, const char *key, const char *reason)
{
    struct lds_absent *absent = lds_grow(list, count, sizeof *absent);
    if (!absent)
        return false;
    *absent = (struct lds_absent){.key = strdup(key), .reason = strdup(reason)};
    return absent->key && absent->reason;
}
