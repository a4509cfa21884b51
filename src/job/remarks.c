#include "job/remarks.h"

#include <stdio.h>
#include <stdlib.h>

#include "grow.h"
#include "scarce.h"

bool lds_remark_list(struct lds_remarks *remarks, const char *format, va_list args)
{
    char *text = NULL;
    if (vasprintf(&text, format, args) < 0)
        return false;
    char **line = lds_grow(&remarks->line, &remarks->count, sizeof *line);
    if (line)
        *line = text;
    else
        free(text);
    return line != NULL;
}

bool lds_remark(struct lds_remarks *remarks, const char *format, ...)
{
    va_list args;
    va_start(args, format);
    bool enough = lds_remark_list(remarks, format, args);
    va_end(args);
    if (!enough)
        lds_scarce_note();
    return enough;
}

void lds_remarks_free(struct lds_remarks *remarks)
{
    for (size_t i = 0; i < remarks->count; i++)
        free(remarks->line[i]);
    free(remarks->line);
    *remarks = (struct lds_remarks){0};
}
