/* Limits: what is read from a file or from a key and its value, and what is refused. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <cmocka.h>

#include "compare/made.h"
#include "simulate/check.h"

static void write_file(char path[32], const char *text)
{
    strcpy(path, "/tmp/loadside-limits-XXXXXX");
    int handle = mkstemp(path);
    assert_true(handle >= 0);
    assert_int_equal(write(handle, text, strlen(text)), (ssize_t)strlen(text));
    close(handle);
}

static void test_file(void **state)
{
    (void)state;
    char path[32];
    struct lds_limits limits;
    struct lds_error error = {0};
    write_file(path, "# of the hall's amplifier\n[limits]\nthd = at most 0.005 % ; -86 dB\nnoise.a = at most -94 dBV\n"
                     "noise.band.20k-100k = at most 60 uV\n\nsnr = at least 100\nlevel.dc = change at most 5 mV\n");
    assert_int_equal(lds_limits_read(path, &limits, &error), LDS_OK);
    unlink(path);
    static const struct lds_limit expected[] = {
        {"thd", LDS_AT_MOST, -86.02059991327962, 3, "dB"}, /* 20 log10(5e-5) */
        {"noise.a", LDS_AT_MOST, 19.952623149688797e-6, 4, "V"},
        {"noise.band.20k-100k", LDS_AT_MOST, 60e-6, 5, "V"},
        {"snr", LDS_AT_LEAST, 100.0, 7, "dB"},
        {"level.dc", LDS_CHANGE_AT_MOST, 5e-3, 8, "V"},
    };
    assert_int_equal(limits.count, sizeof expected / sizeof *expected);
    for (size_t i = 0; i < limits.count; i++) {
        assert_string_equal(limits.limit[i].key, expected[i].key);
        assert_int_equal(limits.limit[i].kind, expected[i].kind);
        check_close(limits.limit[i].value, expected[i].value, 1e-12 * fabs(expected[i].value));
        assert_int_equal(limits.limit[i].line, expected[i].line);
        assert_string_equal(limits.limit[i].unit, expected[i].unit);
    }
    lds_limits_free(&limits);
    assert_int_equal(limits.count, 0);
}

static void test_files_refused(void **state)
{
    (void)state;
    static const struct {
        const char *text, *message; /* after the path */
    } cases[] = {
        {"[limits]\n\ntdh = at most 1 %\nsnr = nothing\n", ":3: unknown key 'tdh'; the nearest is 'thd'"},
        {"[limits]\nthd\ntdh = at most 1 %\n", ":2: is neither a section nor"},
        {"[limit]\nthd = at most 1 %\n", ":2: 'thd' stands under [limit]"},
        {"[limits]\n", ": no limit in this file"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        char path[32];
        struct lds_limits limits;
        struct lds_error error = {0};
        write_file(path, cases[i].text);
        assert_int_equal(lds_limits_read(path, &limits, &error), LDS_BAD_USE);
        unlink(path);
        assert_memory_equal(error.message, path, strlen(path));
        if (strncmp(error.message + strlen(path), cases[i].message, strlen(cases[i].message)) != 0)
            fail_msg("'%s' does not go on with '%s'", error.message, cases[i].message);
        assert_int_equal(limits.count, 0);
        assert_null(limits.limit);
    }
    struct lds_limits limits;
    struct lds_error error = {0};
    assert_int_equal(lds_limits_read("/no/such/file.ini", &limits, &error), LDS_IO);
    lds_limits_free(&limits);
}

/* One pair at a time, as for the limits section of another file. */
static void test_pairs(void **state)
{
    (void)state;
    struct lds_limits limits = {0};
    struct lds_error error = {0};
    assert_int_equal(lds_limits_add(&limits, "thd", "at most 1 %", 12, &error), LDS_OK);
    assert_int_equal(lds_limits_add(&limits, "thd", "at most 2 %", 13, &error), LDS_BAD_USE);
    assert_non_null(strstr(error.message, "first in line 12"));
    assert_int_equal(lds_limits_add(&limits, "thd", "at least -100 dB", 14, &error), LDS_OK);
    assert_int_equal(lds_limits_add(&limits, "noise.a", "at most -100 dBFS", 15, &error), LDS_OK);
    assert_int_equal(lds_limits_add(&limits, "noise.a", "at most 1 W", 16, &error), LDS_BAD_USE);
    assert_int_equal(lds_limits_add(&limits, "noise.a", "change at most -1 dB", 16, &error), LDS_BAD_USE);
    assert_int_equal(lds_limits_add(&limits, "noise.band.20-20000", "at most 1 uV", 16, &error), LDS_BAD_USE);
    assert_int_equal(limits.count, 3);

    struct lds_measurement m;
    made_capture(&m, "after.wav", 1);
    made_figure(&m, "thd", -90.0, 0.1);
    assert_int_equal(lds_limits_check(&limits, "sheet.ini", &m, 1, &error), LDS_OK);
    made_figure(&m, "noise.a", 20e-6, 1e-7);
    assert_int_equal(lds_limits_check(&limits, "sheet.ini", &m, 1, &error), LDS_BAD_USE);
    assert_memory_equal(error.message, "sheet.ini:15: ", 14);
    assert_non_null(strstr(error.message, "a limit in dBFS found for noise.a, which after.wav has in V"));
    lds_measurement_free(&m);
    lds_limits_free(&limits);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_file),
        cmocka_unit_test(test_files_refused),
        cmocka_unit_test(test_pairs),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
