/* The line of progress, with a clock that the test sets. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "progress.h"

static double now_s;

static double clock_s(void)
{
    return now_s;
}

/* What a terminal shows at the end of the text, where '\r' goes to the start of the line. */
static void shown(FILE *out, char *line, size_t size)
{
    size_t at = 0;
    int c;
    memset(line, 0, size);
    rewind(out);
    while ((c = fgetc(out)) != EOF) {
        assert_int_not_equal(c, '\n');
        if (c == '\r')
            at = 0;
        else if (at + 1 < size)
            line[at++] = (char)c;
    }
    fseek(out, 0, SEEK_END);
    for (size_t end = strlen(line); end && line[end - 1] == ' '; end--)
        line[end - 1] = '\0';
}

static struct progress start(const char *name)
{
    struct progress progress;
    now_s = 100.0;
    progress_start(&progress, false, name);
    assert_null(progress.out);
    progress.out = tmpfile(); /* as there is no terminal; its lines are then cut to 80 columns */
    assert_non_null(progress.out);
    progress.now_s = clock_s;
    progress.start_s = now_s;
    return progress;
}

static void nothing_when_not_wanted(void **state)
{
    (void)state;
    struct progress progress;
    progress_start(&progress, false, "a.wav");
    progress.start_s -= 10.0;
    progress_show(&progress, "averaging", 0.5);
    assert_int_equal(progress.width, 0);
    progress_end(&progress);
}

static void nothing_before_half_a_second(void **state)
{
    (void)state;
    struct progress progress = start("a.wav");
    now_s += 0.49;
    progress_show(&progress, "averaging", 0.9);
    assert_int_equal(ftell(progress.out), 0);
    progress_end(&progress);
    assert_int_equal(ftell(progress.out), 0);
    fclose(progress.out);
}

static void says_what_and_the_time_left(void **state)
{
    (void)state;
    char line[200];
    struct progress progress = start("/captures/a.wav");
    now_s += 2.0;
    progress_show(&progress, "averaging", 0.25);
    shown(progress.out, line, sizeof line);
    assert_string_equal(line, "a.wav: averaging, 25 %, 6 s left");
    now_s += 0.05; /* too soon for another update */
    progress_show(&progress, "fitting", 0.5);
    shown(progress.out, line, sizeof line);
    assert_string_equal(line, "a.wav: averaging, 25 %, 6 s left");
    now_s += 7.95;
    progress_show(&progress, "fit", 0.1);
    shown(progress.out, line, sizeof line);
    assert_string_equal(line, "a.wav: fit, 10 %, 1 min 30 s left");
    now_s += 10.0;
    progress_show(&progress, "fit", 0.0); /* no guess without progress */
    shown(progress.out, line, sizeof line);
    assert_string_equal(line, "a.wav: fit");
    now_s += 3980.0;
    progress_show(&progress, "fit", 0.5);
    shown(progress.out, line, sizeof line);
    assert_string_equal(line, "a.wav: fit, 50 %, 1 h 06 min left");
    progress_end(&progress);
    shown(progress.out, line, sizeof line);
    assert_string_equal(line, "");
    fclose(progress.out);
}

static void stays_in_one_line(void **state)
{
    (void)state;
    char line[400], long_name[120];
    memset(long_name, 'x', sizeof long_name - 1);
    long_name[sizeof long_name - 1] = '\0';
    memcpy(long_name, "a\n\xc3\xa9", 4);
    struct progress progress = start(long_name);
    now_s += 1.0;
    progress_show(&progress, "averaging", 0.5);
    assert_int_equal(progress.width, 79);
    shown(progress.out, line, sizeof line);
    assert_int_equal(strlen(line), 80); /* bytes: one letter has two */
    assert_memory_equal(line, "a\\n\xc3\xa9x", 6);
    progress_end(&progress);
    fclose(progress.out);
}

/* The lines that a terminal shows of the text, by what the program uses of ECMA-48: \r, \n, cursor up, erase. */
static void screen(FILE *out, char row[8][100])
{
    size_t y = 0, x = 0, number = 0;
    int c;
    memset(row, 0, 8 * sizeof *row);
    rewind(out);
    while ((c = fgetc(out)) != EOF) {
        if (c == '\r') {
            x = 0;
        } else if (c == '\n') {
            y++;
            x = 0;
        } else if (c == '\033') {
            assert_int_equal(fgetc(out), '[');
            for (number = 0; (c = fgetc(out)) >= '0' && c <= '9';)
                number = 10 * number + (size_t)(c - '0');
            assert_true(c == 'A' ? number > 0 && number <= y : c == 'K' || c == 'J');
            y -= c == 'A' ? number : 0;
            if (c != 'A')
                memset(row[y] + x, 0, sizeof row[y] - x);
            for (size_t below = y + 1; c == 'J' && below < 8; below++)
                memset(row[below], 0, sizeof row[below]);
        } else {
            assert_true(y < 8 && x < 99);
            row[y][x++] = (char)c;
        }
    }
    fseek(out, 0, SEEK_END);
}

static void a_line_for_each_of_many(void **state)
{
    (void)state;
    char row[8][100];
    struct progress_many many;
    now_s = 100.0;
    assert_true(progress_many_start(&many, false, 3));
    assert_null(many.out);
    many.out = tmpfile();
    assert_non_null(many.out);
    many.now_s = clock_s;
    many.start_s = now_s;
    progress_many_name(&many, 0, "a.wav");
    progress_many_name(&many, 1, "b\033.wav");
    progress_many_name(&many, 2, "c.wav");
    progress_many_show(&many, 0, "measuring", 0.0);
    progress_many_show(&many, 1, "measuring", 0.0);
    assert_int_equal(ftell(many.out), 0); /* not before half a second */
    now_s += 1.0;
    progress_many_show(&many, 0, "measuring", 0.5);
    now_s += 1.0;
    progress_many_show(&many, 1, "measuring", 0.5);
    screen(many.out, row);
    assert_string_equal(row[0], "a.wav: measuring, 50 %, 2 s left");
    assert_string_equal(row[1], "b\\x1b.wav: measuring, 50 %, 2 s left");
    assert_string_equal(row[2], "0 of 3 captures done");
    now_s += 1.0;
    progress_many_show(&many, 0, "measuring", 1.0);
    screen(many.out, row);
    assert_string_equal(row[0], "b\\x1b.wav: measuring, 50 %, 3 s left");
    assert_string_equal(row[1], "1 of 3 captures done");
    assert_string_equal(row[2], "");
    FILE *out = many.out;
    progress_many_end(&many);
    screen(out, row);
    assert_true(!row[0][0] && !row[1][0] && !row[2][0]);
    fclose(out);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(nothing_when_not_wanted),     cmocka_unit_test(nothing_before_half_a_second),
        cmocka_unit_test(says_what_and_the_time_left), cmocka_unit_test(stays_in_one_line),
        cmocka_unit_test(a_line_for_each_of_many),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
