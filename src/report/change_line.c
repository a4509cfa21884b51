#include "report/change_line.h"

#include <stdbool.h>
#include <string.h>

#include "report/page.h"
#include "safe_text.h"

void lds_change_line_heading(FILE *out, const struct lds_change_columns *columns, const char *name, const char *change)
{
    lds_page_left(out, name, 2 + columns->label + columns->word);
    lds_page_left(out, change, columns->before + columns->after + columns->interval);
    lds_page_right(out, "before → after", columns->values);
    fputc('\n', out);
}

static bool fits(const struct lds_change_columns *columns, const struct lds_change_line *line)
{
    size_t whole = strcspn(line->number, ".");
    int interval = lds_words_width(line->interval), values = lds_words_width(line->values);
    return (int)whole <= columns->before && (int)(strlen(line->number) - whole) < columns->after &&
           interval <= columns->interval && values <= columns->values &&
           interval + values < columns->interval + columns->values && lds_words_width(line->label) < columns->label;
}

void lds_change_line_print(FILE *out, const struct lds_change_columns *columns, const struct lds_change_line *line)
{
    if (!fits(columns, line)) {
        bool sized = line->number[0] || line->interval[0];
        lds_page_paragraph(out, 2, 2, "%s: %s%s%s%s%s%s%s%s%s", line->label, line->word, line->word[0] ? ", " : "",
                           line->number, line->number[0] ? " " : "", line->interval, sized && line->unit[0] ? " " : "",
                           sized ? line->unit : "", sized ? "; " : "", line->values);
        return;
    }
    fputs("  ", out);
    lds_page_left(out, line->label, columns->label);
    lds_page_left(out, line->word, columns->word);
    lds_page_number(out, line->number, columns->before, columns->after);
    lds_page_left(out, line->interval, columns->interval);
    lds_page_right(out, line->values, columns->values);
    fputc('\n', out);
}
