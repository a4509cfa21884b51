#include "loadside/quantity.h"

#include <math.h>
#include <string.h>
#include <strings.h>

#include "number.h"

static const struct {
    const char *text;
    double factor;
} prefixes[] = {
    {"p", 1e-12},       {"n", 1e-9},        {"u", 1e-6},
    {"\xc2\xb5", 1e-6}, {"\xce\xbc", 1e-6}, /* U+00B5 micro sign, U+03BC Greek mu */
    {"m", 1e-3},        {"k", 1e3},         {"K", 1e3},
    {"M", 1e6},         {"G", 1e9},
};

/* Whether text[0..length) is the unit. */
static bool is_unit(const char *text, size_t length, const char *unit)
{
    if (!unit || !*unit)
        return false;
    if (length == strlen(unit) && !strncmp(text, unit, length))
        return true;
    bool ohm = !strcmp(unit, "ohm"), any_case = ohm || !strcmp(unit, "Hz");
    if (any_case && length == strlen(unit) && !strncasecmp(text, unit, length))
        return true;
    /* U+03A9 Greek capital omega and U+2126 ohm sign */
    return ohm && ((length == 2 && !memcmp(text, "\xce\xa9", 2)) || (length == 3 && !memcmp(text, "\xe2\x84\xa6", 3)));
}

/* Factor of the text after the number: nothing, a unit, a prefix, or a prefix and a unit. 0: anything else. */
static double suffix_factor(const char *text, size_t length, const char *unit)
{
    if (length == 0 || is_unit(text, length, unit))
        return 1.0;
    for (size_t i = 0; i < sizeof prefixes / sizeof *prefixes; i++) {
        size_t prefix = strlen(prefixes[i].text);
        if (prefix > length || memcmp(text, prefixes[i].text, prefix) != 0)
            continue;
        if (prefix == length || is_unit(text + prefix, length - prefix, unit))
            return prefixes[i].factor;
    }
    return 0.0;
}

bool lds_quantity_parse(const char *text, const char *unit, double *value)
{
    double number;
    text += strspn(text, " \t");
    const char *rest = lds_number_read(text, '.', &number, NULL);
    if (!rest)
        return false;
    rest += strspn(rest, " \t");
    size_t length = strlen(rest);
    while (length > 0 && strchr(" \t\r\n", rest[length - 1]))
        length--;
    double factor = suffix_factor(rest, length, unit);
    /* Dividing by an exact power of ten makes "20m" the double nearest 0.02; multiplying by 1e-3 may not. */
    double result = factor < 1.0 && factor > 0.0 ? number / round(1.0 / factor) : number * factor;
    if (factor == 0.0 || !isfinite(result))
        return false;
    *value = result;
    return true;
}

/* One edge of a band: text[0..length). */
static bool parse_edge(const char *text, size_t length, double *value)
{
    char copy[64];
    if (length >= sizeof copy)
        return false;
    memcpy(copy, text, length);
    copy[length] = '\0';
    return lds_quantity_parse(copy, "Hz", value);
}

bool lds_band_parse(const char *text, double *low_hz, double *high_hz)
{
    /* The hyphen between the edges may not be that of an exponent: use the one with a number on both sides. */
    for (const char *dash = strchr(text, '-'); dash; dash = strchr(dash + 1, '-')) {
        double low, high;
        if (!parse_edge(text, (size_t)(dash - text), &low) || !lds_quantity_parse(dash + 1, "Hz", &high))
            continue;
        if (!(low > 0.0) || !(high > low))
            return false;
        *low_hz = low;
        *high_hz = high;
        return true;
    }
    return false;
}
