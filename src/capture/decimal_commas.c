#include "capture/csv_parts.h"

#include <string.h>

static const char *const DIGITS = "0123456789";

void lds_decimal_commas_start(struct lds_decimal_commas *commas, char separator)
{
    *commas = (struct lds_decimal_commas){.possible = separator == ','};
}

/* [+-]digits; NULL for anything else. */
static const char *before_comma(const char *at, bool *shown)
{
    at += strspn(at, " \t\"");
    bool minus = *at == '-';
    at += *at == '-' || *at == '+';
    size_t digits = strspn(at, DIGITS);
    *shown = *shown || (minus && digits == 1 && *at == '0');
    return digits > 0 && at[digits] == ',' ? at + digits + 1 : NULL;
}

/* digits[e[+-]digits]; NULL for anything else. */
static const char *after_comma(const char *at, bool *shown)
{
    size_t digits = strspn(at, DIGITS);
    *shown = *shown || (digits > 1 && *at == '0');
    if (digits == 0)
        return NULL;
    at += digits;
    if (*at == 'e' || *at == 'E') {
        at++;
        at += *at == '-' || *at == '+';
        at += strspn(at, DIGITS);
    }
    return at + strspn(at, " \t\"");
}

void lds_decimal_commas_row(struct lds_decimal_commas *commas, const char *row)
{
    bool shown = commas->shown;
    int numbers = 0;
    if (!commas->possible)
        return;
    for (const char *at = row; at; numbers++) {
        at = before_comma(at, &shown);
        at = at ? after_comma(at, &shown) : NULL;
        if (!at)
            break;
        if (*at == '\0') {
            commas->shown = shown;
            commas->possible = numbers + 1 >= 2; /* a time and a voltage at least */
            return;
        }
        if (*at++ != ',')
            break;
    }
    commas->possible = false;
}
