#include "report/reading.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "hz_words.h"
#include "report/figures.h"

bool lds_unit_is_linear(const char *unit)
{
    return strcmp(unit, "V") == 0 || strcmp(unit, "W") == 0 || strcmp(unit, "V/√Hz") == 0 || strcmp(unit, "A") == 0;
}

bool lds_unit_is_scaled(const char *unit)
{
    return lds_unit_is_linear(unit) || strcmp(unit, "Hz") == 0 || strcmp(unit, "ohm") == 0;
}

bool lds_unit_is_whole(const char *unit)
{
    return strcmp(unit, "count") == 0 || strcmp(unit, "bit") == 0;
}

/* Exponent of the first significant digit after rounding to that many digits. */
static int exponent_of(double number, int digits)
{
    char text[40];
    snprintf(text, sizeof text, "%.*e", digits - 1, fabs(number));
    int exponent = 0;
    const char *e = strchr(text, 'e');
    if (e)
        sscanf(e + 1, "%d", &exponent);
    return exponent;
}

static int bounded(int decimals)
{
    return decimals > LDS_DECIMALS_MAX ? LDS_DECIMALS_MAX : decimals < -6 ? -6 : decimals;
}

int lds_reading_decimals(double half_width)
{
    return bounded(1 - exponent_of(half_width, 2));
}

/* Fixed notation with that many decimals; a negative number rounds tens and hundreds away. */
static void write_fixed(char *text, size_t size, double number, int decimals)
{
    if (fabs(number) >= 1e9) {
        snprintf(text, size, "%.2e", number);
        return;
    }
    if (decimals < 0) {
        double step = pow(10.0, -decimals);
        number = nearbyint(number / step) * step;
        decimals = 0;
    }
    snprintf(text, size, "%.*f", decimals, number);
    if (text[0] == '-' && strspn(text, "-0.") == strlen(text)) /* no "-0.00" */
        memmove(text, text + 1, strlen(text));
}

/* A half-width never prints as less than one step of its last digit, nor as less than it is except for rounding. */
static void write_width(char *text, size_t size, double width, int decimals)
{
    double step = pow(10.0, -decimals);
    write_fixed(text, size, width < step && width > 0.0 ? step : width, decimals);
    if (strlen(text) > 7)
        snprintf(text, size, "%.1e", width);
}

/* Sides within a tenth of each other print as one, the larger. */
static bool nearly_even(double value, double low, double high)
{
    double up = high - value, down = value - low;
    return fabs(up - down) <= 0.1 * fmax(up, down);
}

static void write_interval(struct lds_reading *reading, double value, double low, double high, int decimals)
{
    char up[32], down[32];
    bool up_open = !isfinite(high), down_open = !isfinite(low);
    if (up_open && down_open)
        return;
    write_width(up, sizeof up, up_open ? 0.0 : fmax(high - value, 0.0), decimals);
    write_width(down, sizeof down, down_open ? 0.0 : fmax(value - low, 0.0), decimals);
    if (up_open || down_open)
        snprintf(reading->interval, sizeof reading->interval, "+%s/-%s", up_open ? "∞" : up, down_open ? "∞" : down);
    else if (nearly_even(value, low, high) || strlen(up) + strlen(down) > 8)
        snprintf(reading->interval, sizeof reading->interval, "±%s", high - value > value - low ? up : down);
    else
        snprintf(reading->interval, sizeof reading->interval, "+%s/-%s", up, down);
}

/* The larger of the finite half-widths: in an uneven interval the wider side must not get more than two digits. */
static double half_width(double value, double low, double high)
{
    double width = 0.0;
    if (isfinite(high))
        width = fmax(width, high - value);
    if (isfinite(low))
        width = fmax(width, value - low);
    return width;
}

static double scale_of(double size, const char *unit, const char **prefix)
{
    static const char *const prefixes[] = {"f", "p", "n", "µ", "m", "", "k", "M", "G"};
    *prefix = "";
    if (size == 0.0 || !isfinite(size))
        return 1.0;
    int exponent = exponent_of(size, 3);
    int step = exponent >= 0 ? exponent / 3 : -((2 - exponent) / 3);
    if (strcmp(unit, "Hz") == 0 && exponent < 5)
        step = 0;
    step = step < -5 ? -5 : step > 3 ? 3 : step;
    *prefix = prefixes[step + 5];
    return pow(10.0, 3 * step);
}

static void make_limit(struct lds_reading *reading, double high, bool scaled)
{
    int decimals = bounded(1 - exponent_of(high, 2));
    if (!scaled && decimals < 0)
        decimals = 0;
    double step = pow(10.0, -decimals);
    char limit[28];
    write_fixed(limit, sizeof limit, ceil(high / step - 1e-9) * step, decimals);
    snprintf(reading->value, sizeof reading->value, "< %s", limit);
}

struct lds_reading lds_reading(double value, double low, double high, const char *unit, double reference, bool whole)
{
    struct lds_reading reading = {.value = ""};
    bool limit = !isfinite(value) && isfinite(high);
    bool scaled = !isnan(reference);
    double size = limit ? high : fmax(fabs(value), half_width(value, low, high));
    if (reference > 0.0 && size > 1e-4 * reference) /* else the column's unit would leave it no digits */
        size = reference;
    const char *prefix = "";
    double scale = scaled ? scale_of(size, unit, &prefix) : 1.0;
    snprintf(reading.unit, sizeof reading.unit, "%s%s", prefix, unit);
    value /= scale;
    low /= scale;
    high /= scale;
    double width = half_width(value, low, high);
    if (limit) {
        make_limit(&reading, high, scaled);
    } else if (!isfinite(value)) {
        snprintf(reading.value, sizeof reading.value, "?");
    } else if (whole || width <= 0.0) {
        int decimals = whole || value == 0.0 ? 0 : 2 - exponent_of(value, 3);
        write_fixed(reading.value, sizeof reading.value, value, bounded(decimals));
    } else {
        int decimals = lds_reading_decimals(width);
        write_fixed(reading.value, sizeof reading.value, value, decimals);
        write_interval(&reading, value, low, high, decimals);
    }
    return reading;
}

void lds_reading_trim(struct lds_reading *reading)
{
    size_t length = strlen(reading->value);
    if (!strchr(reading->value, '.'))
        return;
    while (reading->value[length - 1] == '0')
        length--;
    reading->value[length - (reading->value[length - 1] == '.')] = '\0';
}

struct lds_short lds_hz(double hz)
{
    struct lds_short words;
    lds_hz_words(hz, words.text, sizeof words.text);
    return words;
}

struct lds_short lds_percent_words(double value_db, double low_db, double high_db)
{
    struct lds_short words = {"?"};
    double value = lds_percent(value_db), low = lds_percent(low_db), high = lds_percent(high_db);
    bool limit = !isfinite(value) && isfinite(high);
    double width = half_width(value, low, high);
    int decimals = limit         ? 1 - exponent_of(high, 2)
                   : width > 0.0 ? 1 - exponent_of(width, 2)
                   : value > 0.0 ? 2 - exponent_of(value, 3)
                                 : 0;
    /* A ratio below -160 dB shows fewer digits rather than a longer row. */
    int most = fabs(value) >= 1.0 ? 4 : 8;
    decimals = decimals > most ? most : decimals < 0 ? 0 : decimals;
    if (limit) {
        double step = pow(10.0, -decimals);
        snprintf(words.text, sizeof words.text, "< %.*f %%", decimals, ceil(high / step - 1e-9) * step);
    } else if (isfinite(value)) {
        snprintf(words.text, sizeof words.text, "%.*f %%", decimals, value);
    }
    return words;
}
