#include <stdio.h>

#include "compare/work.h"
#include "record/record.h"

void lds_name_words(const struct lds_figure_name *name, char *words, size_t size)
{
    char detail[96];
    lds_figure_detail(name, detail, sizeof detail);
    snprintf(words, size, "%s%s%s", name->row->label, detail[0] ? ", " : "", detail);
}
