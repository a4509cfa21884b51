#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>
#include <locale.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "loadside/quantity.h"
#include "number.h"
#include "simulate/random.h"

static void numbers_with_prefix_and_unit(void **state)
{
    (void)state;
    static const struct {
        const char *text, *unit;
        double value;
    } cases[] = {
        {"8", NULL, 8.0},
        {"8", "ohm", 8.0},
        {"8 ohm", "ohm", 8.0},
        {"8Ohm", "ohm", 8.0},
        {"8 \xce\xa9", "ohm", 8.0},
        {"8\xe2\x84\xa6", "ohm", 8.0},
        {"4.7k\xce\xa9", "ohm", 4700.0},
        {"500 kHz", "Hz", 5e5},
        {"500khz", "Hz", 5e5},
        {"500 KHz", "Hz", 5e5},
        {"1.25 MHz", "Hz", 1.25e6},
        {"0.775V", "V", 0.775},
        {"20 m", "V", 0.02},
        {"20mV", "V", 0.02},
        {"3\xc2\xb5V", "V", 3e-6},
        {"3 \xce\xbcV", "V", 3e-6},
        {"3uV", "V", 3e-6},
        {"100 pF", "F", 1e-10},
        {"47p", "F", 4.7e-11},
        {"7nV", "V", 7e-9},
        {"1G", "", 1e9},
        {"-3.5e-2", NULL, -0.035},
        {"+5", NULL, 5.0},
        {".5", NULL, 0.5},
        {"5.", NULL, 5.0},
        {"  8  ", NULL, 8.0},
        {"100 ppm", "ppm", 100.0},
        {"0.5 %", "%", 0.5},
        {"0.1 dB", "dB", 0.1},
        {"1e3k", "Hz", 1e6},
    };
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        double value = NAN;
        if (!lds_quantity_parse(cases[i].text, cases[i].unit, &value) || value != cases[i].value)
            fail_msg("'%s' gave %.17g", cases[i].text, value);
    }
}

static void what_is_no_quantity(void **state)
{
    (void)state;
    static const struct {
        const char *text, *unit;
    } cases[] = {
        {"", NULL},         {"ohm", "ohm"}, {"8 ohm", "V"}, {"8 ohm", NULL},   {"8x", NULL},
        {"1,5", NULL},      {"0x10", NULL}, {"inf", NULL},  {"nan", NULL},     {"1e400", NULL},
        {"8 8", NULL},      {"1e", NULL},   {"--1", NULL},  {"5 v", "V"},      {"5 kk", NULL},
        {"5 ohm k", "ohm"}, {".", NULL},    {"e5", NULL},   {"1e308 k", NULL}, {"5 mhz x", "Hz"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        double value = 123.0;
        if (lds_quantity_parse(cases[i].text, cases[i].unit, &value))
            fail_msg("'%s' was read as %.17g", cases[i].text, value);
        assert_true(value == 123.0);
    }
}

static void bands(void **state)
{
    (void)state;
    static const struct {
        const char *text;
        double low, high;
    } cases[] = {{"20-20k", 20.0, 20e3},
                 {"400 Hz - 30 kHz", 400.0, 30e3},
                 {"100k-500k", 1e5, 5e5},
                 {"1e-1-10", 0.1, 10.0},
                 {"0.5-1.5Hz", 0.5, 1.5}};
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        double low, high;
        assert_true(lds_band_parse(cases[i].text, &low, &high));
        assert_true(low == cases[i].low && high == cases[i].high);
    }
    static const char *const bad[] = {"", "20", "20-", "-20", "20k-20", "20-20", "0-20", "-5-20", "a-b", "20-20k-30k"};
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        double low = 1.0, high = 2.0;
        if (lds_band_parse(bad[i], &low, &high))
            fail_msg("'%s' was read", bad[i]);
    }
}

/* Compared with the C library's correctly rounded conversion, in the C locale in which a program starts. */
static void rounding_is_the_librarys(void **state)
{
    (void)state;
    const uint64_t seed = 11;
    struct sim_random random;
    sim_random_seed(&random, seed);
    for (int i = 0; i < 200000; i++) {
        char text[64];
        uint64_t bits = sim_random_next(&random);
        double value, read, expected;
        memcpy(&value, &bits, sizeof value);
        if (i % 2 || !isfinite(value))
            value = sim_random_between(&random, -1.0, 1.0);
        snprintf(text, sizeof text, "%.*e", (int)(bits % 20), value);
        if (i % 2)
            snprintf(text, sizeof text, "%.*f", (int)(bits % 20), value);
        expected = strtod(text, NULL);
        const char *end = lds_number_read(text, '.', &read, NULL);
        if (!isfinite(expected))
            continue;
        if (!end || *end || memcmp(&read, &expected, sizeof read) != 0)
            fail_msg("seed %llu: '%s' gave %.17g", (unsigned long long)seed, text, read);
    }
}

static void last_digit_and_decimal_comma(void **state)
{
    (void)state;
    double value, quantum;
    assert_string_equal(lds_number_read("1.50e-3V", '.', &value, &quantum), "V");
    assert_true(value == 1.5e-3);
    assert_true(fabs(quantum / 1e-5 - 1.0) < 1e-15);
    assert_string_equal(lds_number_read("-0,25;7", ',', &value, &quantum), ";7");
    assert_true(value == -0.25 && fabs(quantum / 0.01 - 1.0) < 1e-15);
    assert_string_equal(lds_number_read("0,25", '.', &value, NULL), ",25");
    assert_string_equal(lds_number_read("0,12345678901234567890123", ',', &value, NULL), "");
    assert_true(value == 0.12345678901234567890123);
    assert_string_equal(lds_number_read("3e", '.', &value, NULL), "e");
    assert_null(lds_number_read("-", '.', &value, NULL));
}

static void the_locale_changes_nothing(void **state)
{
    (void)state;
    static const char *const names[] = {"de_DE.UTF-8", "de_DE.utf8", "fr_FR.UTF-8", "nl_NL.UTF-8"};
    bool set = false;
    for (size_t i = 0; i < sizeof names / sizeof *names && !set; i++)
        set = setlocale(LC_ALL, names[i]) != NULL;
    double value;
    assert_true(lds_quantity_parse("1.2345678901234567890123 Hz", "Hz", &value)); /* the slow way */
    assert_true(value == 1.2345678901234567890123);
    assert_false(lds_quantity_parse("1,5", NULL, &value));
    setlocale(LC_ALL, "C");
    if (!set)
        print_message("no locale with a decimal comma is installed here: checked under C only\n");
}

static void nearest_word(void **state)
{
    (void)state;
    static const char *const words[] = {"full_scale", "attenuation", "load", "measure", "compare"};
    static const struct {
        const char *word, *nearest;
    } cases[] = {{"fullscale", "full_scale"}, {"atenuation", "attenuation"}, {"laod", "load"}, {"MEASURE", "measure"},
                 {"mesure", "measure"},       {"compaer", "compare"},        {"load", "load"}};
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++)
        assert_string_equal(lds_nearest(cases[i].word, words, 5), cases[i].nearest);
    assert_null(lds_nearest("xyzzy", words, 5));
    assert_null(lds_nearest("", words, 5));
    assert_null(lds_nearest("load", words, 0));
    char longest[500];
    memset(longest, 'a', sizeof longest - 1);
    longest[sizeof longest - 1] = '\0';
    assert_null(lds_nearest(longest, words, 5));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(numbers_with_prefix_and_unit),
        cmocka_unit_test(what_is_no_quantity),
        cmocka_unit_test(bands),
        cmocka_unit_test(rounding_is_the_librarys),
        cmocka_unit_test(last_digit_and_decimal_comma),
        cmocka_unit_test(the_locale_changes_nothing),
        cmocka_unit_test(nearest_word),
    };
    return cmocka_run_group_tests_name("quantity", tests, NULL, NULL);
}
