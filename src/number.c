#include "number.h"

#include <locale.h>
#include <math.h>
#include <pthread.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

enum { DIGITS_MAX = 19, TEXT_MAX = 128, EXPONENT_MAX = 9999 };

static locale_t c_locale;
static pthread_once_t c_locale_once = PTHREAD_ONCE_INIT;

static void make_c_locale(void)
{
    c_locale = newlocale(LC_ALL_MASK, "C", (locale_t)0);
}

struct decimal {
    bool negative;
    uint64_t digits; /* the first DIGITS_MAX significant ones */
    int count;       /* number of significant digits */
    int exponent;    /* of the last digit written */
};

static bool is_digit(char c)
{
    return c >= '0' && c <= '9';
}

static void add_digit(struct decimal *decimal, char c)
{
    if (decimal->count < DIGITS_MAX)
        decimal->digits = decimal->digits * 10 + (uint64_t)(c - '0');
    if (decimal->count > 0 || c != '0')
        decimal->count++;
}

/* Reads a complete exponent at text; if there is none it returns text, and the 'e' belongs to what follows. */
static const char *read_exponent(const char *text, int *exponent)
{
    if (*text != 'e' && *text != 'E')
        return text;
    const char *at = text + 1;
    bool negative = *at == '-';
    if (*at == '-' || *at == '+')
        at++;
    if (!is_digit(*at))
        return text;
    int e = 0;
    for (; is_digit(*at); at++)
        if (e < EXPONENT_MAX)
            e = e * 10 + (*at - '0');
    *exponent += negative ? -e : e;
    return at;
}

static const char *read_decimal(const char *text, char mark, struct decimal *decimal)
{
    bool any = false;
    *decimal = (struct decimal){.negative = *text == '-'};
    if (*text == '-' || *text == '+')
        text++;
    for (; is_digit(*text); text++, any = true)
        add_digit(decimal, *text);
    if (*text == '.' || *text == mark)
        for (text++; is_digit(*text); text++, any = true) {
            add_digit(decimal, *text);
            decimal->exponent--;
        }
    return any ? read_exponent(text, &decimal->exponent) : NULL;
}

/* A double holds the powers of ten from 1e0 to 1e22 exactly; dividing by one rounds once. */
static const double power_of_ten[] = {1e0,  1e1,  1e2,  1e3,  1e4,  1e5,  1e6,  1e7,  1e8,  1e9,  1e10, 1e11,
                                      1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22};
enum { POWERS = 22 };

static double ten_to(int exponent)
{
    if (exponent >= 0 && exponent <= POWERS)
        return power_of_ten[exponent];
    if (exponent < 0 && exponent >= -POWERS)
        return 1.0 / power_of_ten[-exponent];
    return pow(10.0, exponent);
}

/* The slow way, for many digits or large exponents: the C library's conversion in the C locale. */
static bool convert(const char *text, const char *end, double *value)
{
    char copy[TEXT_MAX];
    size_t length = (size_t)(end - text);
    if (length >= sizeof copy)
        return false;
    memcpy(copy, text, length);
    copy[length] = '\0';
    char *comma = strchr(copy, ',');
    if (comma)
        *comma = '.';
    pthread_once(&c_locale_once, make_c_locale);
    if (!c_locale)
        return false;
    char *stop;
    *value = strtod_l(copy, &stop, c_locale);
    return stop == copy + length && isfinite(*value);
}

const char *lds_number_read(const char *text, char mark, double *value, double *quantum)
{
    struct decimal decimal;
    const char *end = read_decimal(text, mark, &decimal);
    if (!end)
        return NULL;
    /* Digits below 2^53 and a power of ten up to 22 are both exact, so a single operation rounds correctly (Clinger
     * 1990, "How to read floating point numbers accurately", the fast case). */
    bool exact = decimal.count <= DIGITS_MAX && decimal.digits <= UINT64_C(1) << 53 && decimal.exponent >= -POWERS &&
                 decimal.exponent <= POWERS;
    if (exact) {
        double digits = (double)decimal.digits;
        double scale = power_of_ten[abs(decimal.exponent)];
        double magnitude = decimal.exponent < 0 ? digits / scale : digits * scale;
        *value = decimal.negative ? -magnitude : magnitude;
    } else if (!convert(text, end, value)) {
        return NULL;
    }
    if (quantum)
        *quantum = ten_to(decimal.exponent);
    return end;
}
