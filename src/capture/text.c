#include "capture/text.h"

#include <math.h>
#include <string.h>
#include <strings.h>

#include "number.h"

bool lds_text_is(const char *start, size_t size)
{
    for (size_t i = 0; i < size; i++) {
        unsigned char c = (unsigned char)start[i];
        if ((c < 0x20 && !strchr("\t\n\v\f\r", c)) || c == 0x7f || c == 0)
            return false;
    }
    return size > 0;
}

static const char *skip_blank(const char *at, char separator)
{
    while (*at == ' ' || (*at == '\t' && separator != '\t'))
        at++;
    return at;
}

static bool at_end(const char *at)
{
    return *at == '\0' || *at == '\r' || *at == '\n';
}

/* "nan", "inf", "infinity" with a sign, in any case: instruments write them where the input was overdriven. */
static const char *read_word(const char *at, struct lds_cell *cell)
{
    static const struct {
        const char *word;
        double value;
    } words[] = {{"nan", NAN}, {"infinity", INFINITY}, {"inf", INFINITY}};
    double sign = *at == '-' ? -1.0 : 1.0;
    if (*at == '-' || *at == '+')
        at++;
    for (size_t i = 0; i < sizeof words / sizeof *words; i++) {
        size_t length = strlen(words[i].word);
        if (!strncasecmp(at, words[i].word, length)) {
            *cell = (struct lds_cell){sign * words[i].value, 0.0};
            return at + length;
        }
    }
    return NULL;
}

/* One number with the quotes and blanks around it, or NULL. */
static const char *read_cell(const char *at, char separator, struct lds_cell *cell)
{
    at = skip_blank(at, separator);
    bool quoted = *at == '"';
    if (quoted)
        at = skip_blank(at + 1, separator);
    const char *end = lds_number_read(at, separator == ',' ? '.' : ',', &cell->value, &cell->quantum);
    if (!end)
        end = read_word(at, cell);
    if (!end)
        return NULL;
    if (quoted) {
        end = skip_blank(end, separator);
        if (*end++ != '"')
            return NULL;
    }
    return end;
}

int lds_row_read(const char *line, char separator, struct lds_cell cell[LDS_CELLS_MAX])
{
    int cells = 0;
    const char *at = line;
    for (;;) {
        struct lds_cell read;
        const char *end = read_cell(at, separator, &read);
        if (!end)
            return 0;
        if (cells == LDS_CELLS_MAX)
            return LDS_CELLS_MAX + 1;
        cell[cells++] = read;
        at = skip_blank(end, separator);
        if (at_end(at))
            return cells;
        bool separated = separator == ' ' ? at != end : *at == separator;
        if (!separated)
            return 0;
        at = separator == ' ' ? at : skip_blank(at + 1, separator);
        if (at_end(at)) /* allow one separator at the end of every line */
            return cells;
    }
}

char lds_row_separator(const char *line, struct lds_cell cell[LDS_CELLS_MAX], int *cells)
{
    static const char separators[] = "\t;, ";
    for (const char *separator = separators; *separator; separator++) {
        *cells = lds_row_read(line, *separator, cell);
        if (*cells >= 2)
            return *separator;
    }
    return '\0';
}
