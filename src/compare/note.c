/* What a comparison writes down beside its changes. */
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "compare/work.h"
#include "grow.h"

bool lds_note(struct lds_comparison *comparison, const char *format, ...)
{
    char **grown = lds_grow(comparison->note, &comparison->notes, sizeof *grown);
    if (!grown)
        return false;
    comparison->note = grown;
    va_list args;
    va_start(args, format);
    int length = vasprintf(&grown[comparison->notes - 1], format, args);
    va_end(args);
    if (length < 0)
        grown[comparison->notes - 1] = NULL;
    return length >= 0;
}

bool lds_add_absent(struct lds_absent **list, size_t *count, const char *key, const char *reason)
{
    struct lds_absent *grown = lds_grow(*list, count, sizeof *grown);
    if (!grown)
        return false;
    *list = grown;
    grown[*count - 1] = (struct lds_absent){.key = strdup(key), .reason = strdup(reason)};
    return grown[*count - 1].key && grown[*count - 1].reason;
}
