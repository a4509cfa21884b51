/* Sentences of a comparison or a table of units besides its numbers. */
#include <stdarg.h>
#include <stdio.h>

#include "compare/work.h"
#include "grow.h"
#include "record/record.h"

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

void lds_name_words(const struct lds_figure_name *name, char *words, size_t size)
{
    char detail[96];
    lds_figure_detail(name, detail, sizeof detail);
    snprintf(words, size, "%s%s%s", name->row->label, detail[0] ? ", " : "", detail);
}
