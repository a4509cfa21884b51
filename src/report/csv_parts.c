#include "report/csv_parts.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "loadside/measurement.h"
#include "report/figures.h"
#include "safe_text.h"

/* Cells with a comma, a quote or a line break are quoted, with quotes doubled (RFC 4180, 2.6 and 2.7). CSV has no
 * escapes; but neither a terminal nor a spreadsheet is to be given control characters, so these become "\x1b" and the
 * like. */
bool lds_csv_text(FILE *out, const char *text)
{
    char *clean = lds_words_escape_dark(text);
    if (!clean)
        return false;
    const char *start = clean + strspn(clean, " ");
    bool formula = *start != '\0' && strchr("=+-@\t\r", *start);
    bool quoted = strpbrk(clean, ",\"\r\n") != NULL;
    if (quoted)
        fputc('"', out);
    if (formula)
        fputc('\'', out);
    for (const char *c = clean; *c; c++) {
        if (*c == '"')
            fputc('"', out);
        fputc(*c, out);
    }
    if (quoted)
        fputc('"', out);
    free(clean);
    return true;
}

void lds_csv_number(FILE *out, double number)
{
    fputc(',', out);
    if (isfinite(number))
        fprintf(out, "%.15g", number);
}

void lds_csv_flags(FILE *out, unsigned flags)
{
    fputc(',', out);
    lds_flags_print(out, flags, "; ");
}

const char *lds_csv_label(const char *key)
{
    const char *label = lds_label_of(key);
    return label ? label : "";
}
