#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "capture/bench_keys.h"
#include "capture/files.h"
#include "documented.h"
#include "loadside/bench.h"

static void load_or_fail(struct lds_bench *bench, const char *path)
{
    struct lds_error error;
    lds_bench_init(bench);
    if (lds_bench_load(bench, path, &error))
        fail_msg("%s", error.message);
}

static void defaults(void **state)
{
    (void)state;
    struct lds_bench bench;
    lds_bench_init(&bench);
    assert_true(isnan(bench.full_scale_v) && isnan(bench.load_ohm) && isnan(bench.offset_v) && isnan(bench.mains_hz));
    assert_true(isnan(bench.repeat_level_db) && isnan(bench.repeat_noise_db) && isnan(bench.repeat_distortion_db) &&
                isnan(bench.repeat_mains_db));
    assert_true(bench.attenuation == 1.0 && bench.clock_ppm == 100.0 && bench.low_corner_hz == 0.0);
    assert_true(isinf(bench.usable_to_hz) && bench.calibration_percent == 0.0 && bench.load_percent == 0.0);
    assert_false(bench.dc_coupled);
    assert_null(bench.name);
    assert_true(isnan(lds_bench_volts_per_unit(&bench)));
    assert_true(isnan(lds_bench_largest_sine_w(&bench)));
    assert_true(lds_bench_gain(&bench, 1000.0) == 1.0);
}

static void every_key(void **state)
{
    (void)state;
    files_text("curve.csv", "Hz,dB\n10,-6\n100,0\n1000,1\n");
    const char *path = files_text(
        "all.bench", "\xef\xbb\xbf# a bench\r\n[bench]\r\nname = hall rack ; the left one\r\nfull_scale = 1950 mV\r\n"
                     "attenuation: 20\nload=8 ohm\ndc_coupled = Yes\noffset = 2 mV\nlow_corner = 0.8 Hz\n"
                     "usable_to = 80 kHz\nclock_ppm = 50 ppm\ncalibration_percent = 1 %\nload_percent = 2\n"
                     "mains = 60\nresponse = curve.csv\nrepeat_level_db = 0.01 dB\nrepeat_noise_db = 0.02\n"
                     "repeat_distortion_db = 0.03\nrepeat_mains_db = 0.04 dB\n");
    struct lds_bench bench;
    load_or_fail(&bench, path);
    assert_string_equal(bench.name, "hall rack");
    assert_true(bench.full_scale_v == 1.95 && bench.attenuation == 20.0 && bench.load_ohm == 8.0 && bench.dc_coupled);
    assert_true(bench.offset_v == 0.002 && bench.low_corner_hz == 0.8 && bench.usable_to_hz == 8e4);
    assert_true(bench.clock_ppm == 50.0 && bench.calibration_percent == 1.0 && bench.load_percent == 2.0);
    assert_true(bench.mains_hz == 60.0 && bench.repeat_level_db == 0.01 && bench.repeat_noise_db == 0.02);
    assert_true(bench.repeat_distortion_db == 0.03 && bench.repeat_mains_db == 0.04);
    assert_int_equal(bench.response_points, 3);
    assert_true(lds_bench_volts_per_unit(&bench) == 39.0);
    assert_true(fabs(lds_bench_largest_sine_w(&bench) - 39.0 * 39.0 / 16.0) < 1e-9); /* (peak/sqrt 2)^2/R */
    struct lds_bench copy;
    struct lds_error error;
    assert_int_equal(lds_bench_copy(&copy, &bench, &error), LDS_OK);
    assert_ptr_not_equal(copy.name, bench.name);
    assert_ptr_not_equal(copy.response_hz, bench.response_hz);
    double gain = lds_bench_gain(&bench, 30.0);
    lds_bench_free(&bench);
    assert_null(bench.name);
    assert_string_equal(copy.name, "hall rack");
    assert_true(lds_bench_gain(&copy, 30.0) == gain);
    lds_bench_free(&copy);
}

static void gain_of_the_chain(void **state)
{
    (void)state;
    files_text("gain.csv", "10;-6,0\n100;0\n1000;2\n");
    struct lds_bench bench;
    struct lds_error error;
    lds_bench_init(&bench);
    assert_int_equal(lds_bench_load_response(&bench, files_path("gain.csv"), &error), LDS_OK);
    static const double cases[][2] = {
        {1.0, -6.0},   {10.0, -6.0}, {31.622776601683793, -3.0}, {100.0, 0.0}, {316.22776601683796, 1.0},
        {1000.0, 2.0}, {1e6, 2.0}};
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++)
        assert_true(fabs(20.0 * log10(lds_bench_gain(&bench, cases[i][0])) - cases[i][1]) < 1e-12);
    lds_bench_free(&bench);
    /* First-order high-pass: 1/sqrt(2) at the corner, 1/sqrt(1 + 100) a decade below. */
    bench.low_corner_hz = 10.0;
    assert_true(fabs(lds_bench_gain(&bench, 10.0) - sqrt(0.5)) < 1e-15);
    assert_true(fabs(lds_bench_gain(&bench, 1.0) - 1.0 / sqrt(101.0)) < 1e-15);
}

static void check_refused(const char *text, enum lds_status expected, const char *word, const char *other)
{
    const char *path = files_text("bad.bench", text);
    struct lds_bench bench, before;
    struct lds_error error = {0};
    lds_bench_init(&bench);
    bench.load_ohm = 4.0;
    before = bench;
    enum lds_status status = lds_bench_load(&bench, path, &error);
    if (status != expected || !strstr(error.message, word) || !strstr(error.message, other))
        fail_msg("'%s' gave %d: %s", text, (int)status, error.message);
    assert_null(strchr(error.message, '\n'));
    assert_memory_equal(&bench, &before, sizeof bench); /* unchanged */
}

static void what_is_wrong_is_said(void **state)
{
    (void)state;
    check_refused("[bench]\nload = 8\natenuation = 3\n", LDS_BAD_USE, ":3:", "'attenuation' meant");
    check_refused("[bench]\nfull_scale_v = 3\n", LDS_BAD_USE, ":2:", "'full_scale' meant");
    check_refused("[bench]\nzzzzzzzzzzzzzzz = 3\n", LDS_BAD_USE, "unknown key", "docs/bench-file.md");
    check_refused("[bench]\nload = 0\n", LDS_BAD_USE, ":2: load is 0 ohm", "more than 0");
    check_refused("[bench]\nload = -8 ohm\n", LDS_BAD_USE, "load is -8 ohm", "more than 0");
    check_refused("[bench]\nattenuation = 0.99\n", LDS_BAD_USE, "attenuation is 0.99", "at least 1");
    check_refused("[bench]\nfull_scale = 0 V\n", LDS_BAD_USE, "full_scale is 0 V", "more than 0");
    check_refused("[bench]\nload = 8 V\n", LDS_BAD_USE, "load is '8 V'", "ohm");
    check_refused("[bench]\nload = 8,2\n", LDS_BAD_USE, "load is '8,2'", "ohm");
    check_refused("[bench]\nfull_scale = nan\n", LDS_BAD_USE, "full_scale is 'nan'", "V");
    check_refused("[bench]\ndc_coupled = perhaps\n", LDS_BAD_USE, "'perhaps'", "yes or no");
    check_refused("[bench]\nload = 8\nload = 4\n", LDS_BAD_USE, ":3:", "twice");
    check_refused("[bench]\nload = 8\n  4\n", LDS_BAD_USE, ":3:", "twice");
    check_refused("load = 8\n", LDS_BAD_USE, "before any section", "[bench]");
    check_refused("[card]\nload = 8\n", LDS_BAD_USE, "under [card]", "[bench]");
    check_refused("[bench]\nload\n", LDS_BAD_USE, ":2:", "key = value");
    check_refused("[bench\nload = 8\n", LDS_BAD_USE, ":1:", "key = value");
    check_refused("[bench]\nresponse = nowhere.csv\n", LDS_IO, "nowhere.csv", "No such file");
    char text[400] = "[bench]\nname = ";
    memset(text + strlen(text), 'n', 300);
    check_refused(text, LDS_BAD_USE, ":2: is longer than 198", "shorten");
    struct lds_bench bench;
    struct lds_error error;
    lds_bench_init(&bench);
    assert_int_equal(lds_bench_load(&bench, "/tmp", &error), LDS_IO);
    assert_int_equal(lds_bench_load(&bench, files_path("nowhere.bench"), &error), LDS_IO);
    assert_non_null(strstr(error.message, "No such file"));
}

static void what_is_no_response(void **state)
{
    (void)state;
    static const struct {
        const char *text, *word;
    } cases[] = {
        {"", "at least two rows"},
        {"Hz,dB\n", "at least two rows"},
        {"10,0\n", "at least two rows"},
        {"10,0\n10,1\n", ":2: 10 Hz is not higher than the one before"},
        {"0,0\n10,1\n", ":1: 0 Hz"},
        {"-1,0\n10,1\n", ":1: -1 Hz"},
        {"10,0\n20,x\n", ":2: is not a row"},
        {"10,0\n20,1,2\n", ":2: is not a row"},
        {"10,0\n20,nan\n", ":2: is not a row"},
        {"10,0\n20,300\n", ":2: 300 dB"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        struct lds_bench bench;
        struct lds_error error = {0};
        lds_bench_init(&bench);
        assert_int_equal(lds_bench_load_response(&bench, files_text("none.csv", cases[i].text), &error), LDS_BAD_INPUT);
        if (!strstr(error.message, cases[i].word))
            fail_msg("'%s' gave: %s", cases[i].text, error.message);
        assert_int_equal(bench.response_points, 0);
    }
}

static void the_documentation_agrees(void **state)
{
    (void)state;
    size_t count, row = 0;
    const struct lds_ini_key *keys = lds_bench_keys(&count);
    char line[1024];
    FILE *file = documented_open("bench-file.md");
    while (fgets(line, sizeof line, file)) {
        if (strncmp(line, "| `", 3) != 0)
            continue;
        assert_true(row < count);
        documented_as(line, 0, keys[row].name);
        documented_as(line, 1, keys[row].unit);
        documented_as(line, 2, keys[row].fallback);
        row++;
    }
    fclose(file);
    assert_int_equal(row, count);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(defaults),
        cmocka_unit_test(every_key),
        cmocka_unit_test(gain_of_the_chain),
        cmocka_unit_test(what_is_wrong_is_said),
        cmocka_unit_test(what_is_no_response),
        cmocka_unit_test(the_documentation_agrees),
    };
    return cmocka_run_group_tests_name("bench", tests, files_setup, files_teardown);
}
