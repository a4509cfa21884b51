#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "capture/files.h"

static void ways_of_writing(void **state)
{
    (void)state;
    static const char *const texts[] = {
        "0,1\n1e-5,-2.5\n2e-5,0.003\n",
        "0.00000,1\n0.00001,-2.5\n0.00002,3e-3", /* no newline at the end */
        "time,volts\n0,1\n1e-5,-2.5\n2e-5,3E-3\n",
        "Rows,3\r\nInterval,1e-05,s\r\n\r\nTime,A\r\n(ms),(mV)\r\n\r\n0,1000\r\n0.01,-2500\r\n0.02,3\r\n\r\n",
        "\xef\xbb\xbfZeit;Spannung\n0,00000;1,0\n0,00001;-2,5\n0,00002;0,003\n",
        "Delay (ms),5\nTime unit,ms\nTime,A\n0,1\n1e-5,-2.5\n2e-5,3e-3\n", /* neither says what the units of the columns
                                                                            * are */
        "t,mV\n0,1000\n1e-5,-2500\n2e-5,3\n",
        "0;1\n1e-5;-2.5\n2e-5;.003\n",
        "t [us]\tU [V]\n0\t1\n10\t-2,5\n20\t0,003\n",
        "# two columns\n0   1\n1e-5   -2.5\n  2e-5 3e-3  \n",
        "\"0\",\"1\"\n\"1e-5\",\"-2.5\"\n\"2e-5\",\"0.003\"\n",
        "0,1,\n1e-5,-2.5,\n2e-5,0.003,\n",
        "Time (\xc2\xb5s), Voltage (\xce\xbcV)\n-10, 1e6\n0, -2.5e6\n10, 3e3\n",
        "time / s,voltage / V\r0,1\r1e-5,-2.5\r2e-5,3e-3\r",
    };
    for (size_t i = 0; i < sizeof texts / sizeof *texts; i++) {
        struct lds_capture_info info;
        double *x = files_read(files_text("way.csv", texts[i]), NULL, 2, &info);
        if (info.frames != 3 || info.channels != 1 || info.rate_hz != 1e5 || !info.in_volts ||
            fabs(x[0] - 1.0) > 1e-15 || fabs(x[1] + 2.5) > 1e-15 || fabs(x[2] - 0.003) > 1e-18)
            fail_msg("text %zu: %d frames, %d channels, %.17g Hz, %.17g %.17g %.17g", i, (int)info.frames,
                     info.channels, info.rate_hz, x[0], x[1], x[2]);
        assert_string_equal(info.format, "CSV");
        assert_int_equal(info.bits, 0);
        free(x);
    }
}

static void recognised_by_content(void **state)
{
    (void)state;
    struct lds_capture_info info;
    free(files_read(files_text("really-text.wav", "0,1\n1e-5,2\n"), NULL, 1, &info));
    assert_true(info.in_volts);
}

static void several_channels(void **state)
{
    (void)state;
    struct lds_capture_info info;
    double *x = files_read(files_text("three.csv", "s,V,mV,V\n0,1,2,3\n1e-4,4,5,6\n2e-4,7,8,9\n"), NULL, 2, &info);
    static const double expected[] = {1, 0.002, 3, 4, 0.005, 6, 7, 0.008, 9};
    assert_int_equal(info.channels, 3);
    for (int i = 0; i < 9; i++)
        assert_true(fabs(x[i] - expected[i]) < 1e-15);
    free(x);
}

/* A table made row by row, with times from the caller's function. */
static const char *table(const char *name, int rows, const char *format, double (*time)(int row))
{
    const char *path = files_path(name);
    FILE *file = fopen(path, "w");
    assert_non_null(file);
    for (int i = 0; i < rows; i++) {
        fprintf(file, format, time(i));
        fprintf(file, ",%.4f\n", 0.04 * round(100.0 * sin(0.01 * i)));
    }
    fclose(file);
    return path;
}

static double at_192k(int row)
{
    return -0.05 + row / 192000.0;
}

static double at_odd_rate(int row)
{
    return row / 1234567.25;
}

static double a_row_lost(int row)
{
    return (row < 7000 ? row : row + 1) / 192000.0;
}

static double a_row_twice(int row)
{
    return (row < 123 ? row : row - 1) / 192000.0;
}

static double a_pause(int row)
{
    return row / 192000.0 + (row < 9000 ? 0.0 : 10.0);
}

static double a_wandering_clock(int row)
{
    return row / 192000.0 * (1.0 + 1e-3 * row / 20000.0);
}

static double backwards(int row)
{
    return -row / 192000.0;
}

static double as_float(int row)
{
    return (double)(float)(row / 192000.0);
}

static void rate_from_the_time_column(void **state)
{
    (void)state;
    static const struct {
        const char *format;
        double (*time)(int row);
        double rate_hz, within;
    } cases[] = {
        {"%.17g", at_192k, 192000.0, 0.0},        {"%.9f", at_192k, 192000.0, 0.0},
        {"%.7f", at_192k, 192000.0, 0.0},         {"%.5f", at_192k, 192000.0, 0.5}, /* ten rows share a time */
        {"%.6e", at_192k, 192000.0, 0.0},         {"%.6g", at_192k, 192000.0, 0.5},
        {"%.17g", at_odd_rate, 1234567.25, 1e-4}, {"%.10e", at_odd_rate, 1234567.25, 0.3},
        {"%.9g", as_float, 192000.0, 0.05},
    };
    for (size_t c = 0; c < sizeof cases / sizeof *cases; c++) {
        struct lds_capture_info info;
        const char *path = table("rate.csv", 20000, cases[c].format, cases[c].time);
        free(files_read(path, NULL, 1000, &info));
        if (!(fabs(info.rate_hz - cases[c].rate_hz) <= cases[c].within))
            fail_msg("case %zu: %.12g Hz", c, info.rate_hz);
        assert_int_equal(info.frames, 20000);
    }
}

static void unsteady_time_columns(void **state)
{
    (void)state;
    static const struct {
        double (*time)(int row);
        const char *word;
    } cases[] = {{a_row_lost, "frame 7000 "},
                 {a_row_twice, "frame 123 "},
                 {a_pause, "frame 9000 "},
                 {a_wandering_clock, "off the line"}};
    for (size_t c = 0; c < sizeof cases / sizeof *cases; c++)
        files_refused(table("unsteady.csv", 20000, "%.10f", cases[c].time), NULL, LDS_BAD_INPUT, cases[c].word,
                      "not steady");
    files_refused(table("backwards.csv", 20000, "%.10f", backwards), NULL, LDS_BAD_INPUT, "-192000 Hz", "time column");
}

static void rows_that_are_none(void **state)
{
    (void)state;
    static const struct {
        const char *text, *word, *other;
    } cases[] = {
        {"t,v\n0,1\n1e-5,x\n", "line 3", "row of 2 numbers like line 2"},
        {"0,1\n1e-5\n", "line 2", "row of 2 numbers"},
        {"0,1\n1e-5,2,3\n", "line 2", "row of 2 numbers"},
        {"0,1\n1e-5,2\n2e-5,", "line 3", "cut short"},
        {"0,1\n1e-5,nan\n", "channel 1 is not a number", "frame 1"},
        {"0,1,2\n1e-5,1,-inf\n", "channel 2 is infinite", "line 2"},
        {"0,1,2\n1e-5,1,2e160\n", "channel 2 is 2e+160", "line 2"},
        {"0,1\nNaN,1\n", "the time is not a number", "frame 1"},
        {"0,1\n", "one frame", "0.2 s"},
        {"1\n2\n3\n", "one column", "time column"},
        {"0,1\n0,2\n0,3\n", "Hz", "time column"},
        {"0,1\n1,2\n2,3\n", "sample rate is 1 Hz", "unit"},
        {"Hz,V\n0,1\n1e-5,2\n", "column 1 is in Hz", "time column"},
        {"Time (s),Current (A)\n0,1\n1e-5,2\n", "column 2 is in A", "V"},
        {"s,A\n0,1\n1e-5,2\n", "column 2 is in A", "V"},
    };
    for (size_t c = 0; c < sizeof cases / sizeof *cases; c++)
        files_refused(files_text("bad.csv", cases[c].text), NULL, LDS_BAD_INPUT, cases[c].word, cases[c].other);
}

static void sixty_four_channels_and_no_more(void **state)
{
    (void)state;
    char text[3 * 200] = {0};
    struct lds_capture_info info;
    for (int columns = 65; columns <= 68; columns++) {
        text[0] = '\0';
        for (int row = 0; row < 2; row++) {
            strcat(text, row ? "1e-5" : "0");
            for (int i = 1; i < columns; i++)
                strcat(text, ",1");
            strcat(text, "\n");
        }
        const char *path = files_text("wide.csv", text);
        if (columns == 65)
            free(files_read(path, NULL, 5, &info));
        else
            files_refused(path, NULL, LDS_BAD_INPUT, "more than 65 columns", "64");
    }
    assert_int_equal(info.channels, 64);
}

static void lines_without_end(void **state)
{
    (void)state;
    size_t size = 300000;
    char *text = malloc(size);
    memset(text, '1', size);
    files_refused(files_write("long.csv", text, size), NULL, LDS_BAD_INPUT, "line 1 is longer", "row of numbers");
    free(text);
}

static void disk_full_while_keeping_rows(void **state)
{
    (void)state;
    const char *path = table("kept.csv", 1000, "%.9f", at_192k);
    setenv("TMPDIR", "/nonexistent", 1);
    files_refused(path, NULL, LDS_IO, "/nonexistent", "TMPDIR");
    unsetenv("TMPDIR");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(ways_of_writing),
        cmocka_unit_test(recognised_by_content),
        cmocka_unit_test(several_channels),
        cmocka_unit_test(rate_from_the_time_column),
        cmocka_unit_test(unsteady_time_columns),
        cmocka_unit_test(rows_that_are_none),
        cmocka_unit_test(sixty_four_channels_and_no_more),
        cmocka_unit_test(lines_without_end),
        cmocka_unit_test(disk_full_while_keeping_rows),
    };
    return cmocka_run_group_tests_name("csv", tests, files_setup, files_teardown);
}
