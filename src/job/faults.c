#include "job/faults.h"

#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>

#include "job/remarks.h"
#include "loadside/quantity.h"

void lds_fault(struct lds_faults *faults, int line, const char *format, ...)
{
    struct lds_fault *grown = realloc(faults->fault, (faults->count + 1) * sizeof *grown);
    char *text = NULL;
    va_list args;
    if (grown)
        faults->fault = grown;
    va_start(args, format);
    int length = grown ? vasprintf(&text, format, args) : -1;
    va_end(args);
    if (length < 0)
        faults->no_memory = true;
    else
        grown[faults->count] = (struct lds_fault){line, faults->count, text};
    faults->count += length >= 0;
}

char *lds_fault_nearest(const char *word, const char *const *words, size_t count, const char *otherwise)
{
    char *text = NULL;
    const char *near = lds_nearest(word, words, count);
    int length =
        near ? asprintf(&text, "'%.64s': is '%s' meant?", word, near) : asprintf(&text, "'%.64s'; %s", word, otherwise);
    return length < 0 ? NULL : text;
}

enum { TOLD_MAX = 40 }; /* a file of another kind may have thousands */

/* Those of one line stay in the order in which they were found. */
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
        enough = lds_remark(remarks, "%s: %zu faults more; see whether this is a job sheet, or mend those above first",
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
