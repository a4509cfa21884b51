#include "job/remarks.h"

#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>

#include "grow.h"
#include "scarce.h"

bool lds_remark(struct lds_remarks *remarks, const char *format, ...)
{
    char *text = NULL;
    va_list args;
    va_start(args, format);
    int length = vasprintf(&text, format, args);
    va_end(args);
    char **line = length < 0 ? NULL : lds_grow(&remarks->line, &remarks->count, sizeof *line);
    if (line) {
        *line = text;
        return true;
    }
    if (length >= 0)
        free(text);
    lds_scarce_note();
    return false;
}

void lds_remarks_free(struct lds_remarks *remarks)
{
    for (size_t i = 0; i < remarks->count; i++)
        free(remarks->line[i]);
    free(remarks->line);
    *remarks = (struct lds_remarks){0};
}
