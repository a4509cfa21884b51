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

/* ---- faults ---- */

void lds_fault(struct lds_faults *faults, int line, const char *format, ...)
{
    char *text = NULL;
    va_list args;
    va_start(args, format);
    int length = vasprintf(&text, format, args);
    va_end(args);
    size_t order = faults->count;
    struct lds_fault *fault = length < 0 ? NULL : lds_grow(&faults->fault, &faults->count, sizeof *fault);
    if (fault) {
        *fault = (struct lds_fault){line, order, text};
        return;
    }
    if (length >= 0)
        free(text);
    faults->no_memory = true;
}

enum { TOLD_MAX = 40 }; /* a file of another kind may have thousands */

/* Sorts faults by line, and faults of one line in the order in which they were found. */
static int in_order(const void *a, const void *b)
{
    const struct lds_fault *one = a, *other = b;
    if (one->line != other->line)
        return one->line < other->line ? -1 : 1;
    return one->order < other->order ? -1 : one->order > other->order;
}

bool lds_faults_tell(struct lds_faults *faults, const char *path, struct lds_remarks *remarks)
{
    bool enough = !faults->no_memory;
    if (faults->count > 1)
        qsort(faults->fault, faults->count, sizeof *faults->fault, in_order);
    size_t told = faults->count > TOLD_MAX ? TOLD_MAX : faults->count;
    for (size_t i = 0; enough && i < told; i++)
        if (faults->fault[i].line > 0)
            enough = lds_remark(remarks, "%s:%d: %s", path, faults->fault[i].line, faults->fault[i].text);
        else
            enough = lds_remark(remarks, "%s: %s", path, faults->fault[i].text);
    if (enough && told < faults->count)
        enough =
            lds_remark(remarks, "%s: %zu faults more; see whether this is a job sheet, or correct those above first",
                       path, faults->count - told);
    return enough;
}

void lds_faults_free(struct lds_faults *faults)
{
    for (size_t i = 0; i < faults->count; i++)
        free(faults->fault[i].text);
    free(faults->fault);
    *faults = (struct lds_faults){0};
}
