#include "report/page.h"

#include <stdarg.h>
#include <stdlib.h>
#include <string.h>

#include "safe_text.h"
#include "scarce.h"

static void spaces(FILE *out, int count)
{
    if (count > 0)
        fprintf(out, "%*s", count, "");
}

void lds_page_left(FILE *out, const char *text, int width)
{
    fputs(text, out);
    spaces(out, width - lds_words_width(text));
}

void lds_page_right(FILE *out, const char *text, int width)
{
    spaces(out, width - lds_words_width(text));
    fputs(text, out);
}

void lds_page_number(FILE *out, const char *number, int before, int after)
{
    const char *point = strchr(number, '.');
    size_t whole = point ? (size_t)(point - number) : strlen(number);
    spaces(out, before - (int)whole);
    fputs(number, out);
    spaces(out, after - (int)(strlen(number) - whole));
}

/* How many bytes of text, at most `bytes`, fit into `columns`. */
static size_t fitting(const char *text, size_t bytes, int columns)
{
    size_t used = 0;
    while (used < bytes) {
        size_t step;
        char one[8] = "";
        lds_utf8_next(text + used, &step);
        memcpy(one, text + used, step);
        columns -= lds_words_width(one);
        if (columns < 0)
            break;
        used += step;
    }
    return used;
}

static void write_words(FILE *out, int indent, int hanging, const char *text)
{
    int column = 0, margin = indent;
    while (*text == ' ')
        text++;
    while (*text) {
        size_t bytes = strcspn(text, " ");
        size_t fits = fitting(text, bytes, LDS_PAGE_COLUMNS - (column ? column + 1 : margin));
        if (fits < bytes && column > 0) { /* goes to the next line */
            fputc('\n', out);
            column = 0;
            margin = indent + hanging;
            continue;
        }
        spaces(out, column ? 1 : margin);
        fwrite(text, 1, fits, out);
        char word[1024] = "";
        memcpy(word, text, fits < sizeof word - 1 ? fits : sizeof word - 1);
        column = (column ? column + 1 : margin) + lds_words_width(word);
        text += fits;
        if (fits < bytes) { /* a word longer than a line */
            fputc('\n', out);
            column = 0;
            margin = indent + hanging;
        }
        text += strspn(text, " ");
    }
    if (column > 0)
        fputc('\n', out);
}

void lds_page_paragraph(FILE *out, int indent, int hanging, const char *format, ...)
{
    char *text = NULL, *safe = NULL;
    va_list args;
    va_start(args, format);
    if (vasprintf(&text, format, args) < 0)
        lds_scarce_note();
    else if ((safe = lds_words_escape(text)) != NULL)
        write_words(out, indent, hanging, safe);
    va_end(args);
    free(safe);
    free(text);
}
