#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "report/reading.h"
#include "safe_text.h"

/* Two significant digits of the uncertainty, the value to the same place: Guide to the Expression of Uncertainty in
 * Measurement (JCGM 100:2008), 7.2.6; the first case is the guide's own, m = 100.02147 g with U = 0.79 mg. */
static void test_digits_follow_the_interval(void **state)
{
    (void)state;
    static const struct {
        double value, low, high;
        const char *unit;
        double reference;
        const char *expected_value, *expected_interval, *expected_unit;
    } cases[] = {
        {100.02147, 100.02068, 100.02226, "g", NAN, "100.02147", "±0.00079", "g"},
        {-90.4021, -90.6121, -90.1921, "dB", NAN, "-90.40", "±0.21", "dB"},
        {41.27e-6, 41.14e-6, 41.40e-6, "V", 0.0, "41.27", "±0.13", "µV"},
        {0.0, -1.5e-6, 1.5e-6, "V", 0.0, "0.0", "±1.5", "µV"},
        {12.3e-9, 11.9e-9, 12.7e-9, "V/√Hz", 0.0, "12.30", "±0.40", "nV/√Hz"},
        {999.96e-6, 999.86e-6, 1000.06e-6, "V", 0.0, "1.00", "±0.10", NULL},
        {38.2, 29.0, 51.5, "Hz", 0.0, "38", "+13/-9", "Hz"},
        {1000.0213, 999.9213, 1000.1213, "Hz", 0.0, "1000.02", "±0.10", "Hz"},
        {123456.0, 122256.0, 124656.0, "Hz", 0.0, "123.5", "±1.2", "kHz"},
        {5.0, 4.9004, 5.0996, "dB", NAN, "5.00", "±0.10", "dB"}, /* 0.0996 is 0.10, not 0.100 */
        {1234.0, 1114.0, 1354.0, "x", NAN, "1230", "±120", "x"},
        {-60.0, -INFINITY, -58.0, "dB", NAN, "-60.0", "+2.0/-∞", "dB"},
        {3.14159265, NAN, NAN, "dB", NAN, "3.14", "", "dB"},    /* no interval: three digits */
        {-0.001, -0.5, 0.5, "dB", NAN, "0.00", "±0.50", "dB"},  /* no "-0.00" */
        {8e-7, 7e-7, 9e-7, "V", 80e-6, "0.80", "±0.10", "µV"},  /* the unit of the column */
        {8e-10, 7e-10, 9e-10, "V", 80e-6, "800", "±100", "pV"}, /* in the column's unit it would have no digits left */
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        const struct lds_reading reading =
            lds_reading(cases[i].value, cases[i].low, cases[i].high, cases[i].unit, cases[i].reference, false);
        if (cases[i].expected_unit == NULL) { /* 999.96 rounds up to the next prefix or stays: either, but 1000 µV */
            assert_true(strcmp(reading.unit, "mV") == 0 || strcmp(reading.value, "999.96") == 0);
            continue;
        }
        assert_string_equal(reading.value, cases[i].expected_value);
        assert_string_equal(reading.interval, cases[i].expected_interval);
        assert_string_equal(reading.unit, cases[i].expected_unit);
    }
}

static void test_limits_round_up(void **state)
{
    (void)state;
    struct lds_reading reading = lds_reading(NAN, NAN, 2.31e-6, "V", 0.0, false);
    assert_string_equal(reading.value, "< 2.4");
    assert_string_equal(reading.unit, "µV");
    reading = lds_reading(NAN, NAN, -120.9, "dB", NAN, false);
    assert_string_equal(reading.value, "< -120");
    reading = lds_reading(NAN, NAN, NAN, "dB", NAN, false);
    assert_string_equal(reading.value, "?");
    assert_string_equal(lds_percent_words(NAN, NAN, -120.0).text, "< 0.00010 %");
}

static void test_percent(void **state)
{
    (void)state;
    assert_string_equal(lds_percent_words(-90.402, -90.612, -90.192).text, "0.003019 %"); /* U = 0.000073 */
    assert_string_equal(lds_percent_words(0.0, -0.1, 0.1).text, "100.0 %");
}

/* Random values and intervals: the printed interval has at most two digits and is never smaller than its size except by
 * rounding, the value is the true one to half of its last digit, and nothing is wider than its column. */
static void test_random(void **state)
{
    (void)state;
    unsigned seed = 20240504;
    for (int i = 0; i < 20000; i++) {
        double random[3];
        for (int k = 0; k < 3; k++) {
            seed = seed * 1664525u + 1013904223u;
            random[k] = (seed >> 8) / 16777216.0;
        }
        double value = pow(10.0, 6.0 * random[0] - 3.0) * (random[2] < 0.5 ? -1.0 : 1.0);
        double half = pow(10.0, 5.0 * random[1] - 3.5);
        const struct lds_reading reading = lds_reading(value, value - half, value + half, "dB", NAN, false);
        double shown = strtod(reading.value, NULL), shown_half = strtod(reading.interval + strlen("±"), NULL);
        int digits = 0;
        for (const char *c = reading.interval + strlen("±"); *c; c++)
            digits += (*c >= '1' && *c <= '9') || (*c == '0' && digits > 0);
        int decimals = strchr(reading.value, '.') ? (int)strlen(strchr(reading.value, '.') + 1) : 0;
        double step = half >= 99.5 ? pow(10.0, floor(log10(half)) - 1.0) : pow(10.0, -decimals);
        bool good = (digits <= 2 || half >= 99.5) && fabs(shown - value) <= 0.5001 * step &&
                    fabs(shown_half - half) <= 0.5001 * fmax(step, 1e-5) && decimals <= LDS_DECIMALS_MAX;
        if (!good)
            fail_msg("run %d, seed %u: %.9g ±%.9g printed as %s %s", i, seed, value, half, reading.value,
                     reading.interval);
    }
}

static void test_words(void **state)
{
    (void)state;
    char *text = lds_words_escape("\x1b[31m a\nb \xc3\xa9 \xff \xe2\x80\xae \xc2\x9b");
    assert_string_equal(text, "\\x1b[31m a\\x0ab \xc3\xa9 \xEF\xBF\xBD \\u202e \\x9b");
    free(text);
    /* Overlong, surrogate, past the end, cut short: The Unicode Standard, table 3-7. */
    const char *bad[] = {"\xc0\xaf", "\xe0\x80\xaf", "\xed\xa0\x80", "\xf4\x90\x80\x80", "\xe2\x82", "\x80"};
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        size_t bytes;
        assert_int_equal(lds_utf8_next(bad[i], &bytes), 0xFFFD);
        assert_int_equal(bytes, 1);
    }
    assert_int_equal(lds_words_width("a\xc3\xa9\xe5\xba\x83"), 4); /* a, é, a wide one */
    assert_int_equal(lds_words_width("e\xcc\x81"), 1);             /* e and a combining accent */
    assert_int_equal(lds_words_width(""), 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_digits_follow_the_interval),
        cmocka_unit_test(test_limits_round_up),
        cmocka_unit_test(test_percent),
        cmocka_unit_test(test_random),
        cmocka_unit_test(test_words),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
