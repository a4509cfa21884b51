/* Reading job sheets: every key, every fault, the sheet to fill in, the documentation. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "capture/files.h"
#include "documented.h"
#include "job/keys.h"
#include "made.h"

static void every_key(void **state)
{
    (void)state;
    struct lds_sheet sheet;
    files_text("other.bench", "[bench]\nfull_scale = 4 V\nload = 4\n");
    files_text("main.bench", "[bench]\nfull_scale = 3 V\nload = 8\nname = main\n");
    made_read(&sheet, "\xEF\xBB\xBF; a sheet\n[unit]\nmake = Thistlecote\ntype=Sedge 25\nserial : 17 ; the third\n"
                      "channel 1 = left\nchannel 2 = right\n\n"
                      "[rating]\npower = 25 W\nload = 8 ohm\ndistortion = 0.1 %\nfrequency range = 20 Hz - 20 kHz\n"
                      "channels driven = 2\nheld = 5 min\n"
                      "[job]\r\nclient = \xFFhall\ndate = 2024-02-29\nplace = here\nby = me\n"
                      "work = one\n  two\n\n\tthree\nnotes =\n  only = this\n"
                      "[bench]\nload = 16\nfile = main.bench\n"
                      "[parts]\nC1 = 10 uF -> 22 uF\nR2, R3 = \xE2\x86\x92 10 ohm\nC9 = 1 nF ->\nC4 =\n"
                      "[limits]\nthd = at most 0.01 %\nthd = change at most 3 dB\n"
                      "[capture a]\nfile = a.wav\nrole = idle\nside = before\nchannel = 2\nrepeat = 3\nnote = warm\n"
                      "[capture b c]\nfile = /abs/b.wav\nrole = sine\npower = 500 mW\nbench = other.bench\nside =\n"
                      "[capture d]\nfile = d.wav\nrole = chain\nside = after\n");
    assert_string_equal(sheet.make, "Thistlecote");
    assert_string_equal(sheet.serial, "17");
    assert_string_equal(sheet.channel_name[2], "right");
    assert_null(sheet.channel_name[3]);
    assert_true(sheet.rating.power_w == 25.0 && sheet.rating.load_ohm == 8.0 && sheet.rating.distortion_percent == 0.1);
    assert_true(sheet.rating.low_hz == 20.0 && sheet.rating.high_hz == 20000.0 && sheet.rating.held_s == 300.0);
    assert_int_equal(sheet.rating.channels_driven, 2);
    assert_string_equal(sheet.client, "\xEF\xBF\xBDhall");
    assert_string_equal(sheet.date, "2024-02-29");
    assert_string_equal(sheet.work, "one\ntwo\nthree");
    assert_string_equal(sheet.notes, "only = this");
    assert_int_equal(sheet.parts, 3);
    assert_string_equal(sheet.part[0].before, "10 uF");
    assert_string_equal(sheet.part[1].before, "not fitted");
    assert_string_equal(sheet.part[1].after, "10 ohm");
    assert_string_equal(sheet.part[2].after, "not fitted");
    assert_int_equal(sheet.limits, 2);
    assert_true(sheet.limit[0].kind == LDS_AT_MOST && fabs(sheet.limit[0].value + 80.0) < 1e-9);
    assert_int_equal(sheet.captures, 3);
    const struct lds_sheet_capture *a = &sheet.capture[0], *b = &sheet.capture[1];
    assert_string_equal(b->name, "b c");
    assert_true(a->when == LDS_WHEN_BEFORE && a->channel == 2 && a->repeat == 3 && isnan(a->power_w));
    assert_true(b->when == LDS_WHEN_ANY && b->role == lds_role_find("sine") && b->power_w == 0.5 && b->repeat == 1);
    assert_true(a->bench.load_ohm == 16.0 && a->bench.full_scale_v == 3.0); /* overrides the file */
    assert_true(b->bench.load_ohm == 4.0 && b->bench.full_scale_v == 4.0 && !b->bench.name);
    assert_string_equal(a->path, files_path("a.wav"));
    assert_string_equal(b->path, "/abs/b.wav");
    assert_int_equal(sheet.capture[2].when, LDS_WHEN_AFTER);
    lds_sheet_free(&sheet);
}

/* Sections of channels override [bench], also where they stand before it, and its file. */
static void benches_of_channels(void **state)
{
    (void)state;
    struct lds_sheet sheet;
    files_text("parts.bench", "[bench]\nfull_scale = 2 V\nload = 8\n[channel 2]\nattenuation = 5\nload = 6\n");
    made_read(&sheet, "[channel 2]\nattenuation = 10\n[channel 3]\nname = hum\n"
                      "[bench]\nfile = parts.bench\nfull_scale = 3 V\n[channel 1]\nload = 4\n"
                      "[capture a]\nfile = a.wav\nrole = idle\n");
    const struct lds_bench *bench = &sheet.capture[0].bench, *one = lds_bench_of(bench, 1),
                           *two = lds_bench_of(bench, 2);
    assert_true(bench->full_scale_v == 3.0 && bench->load_ohm == 8.0 && bench->attenuation == 1.0);
    assert_true(one != bench && one->load_ohm == 4.0 && one->full_scale_v == 3.0);
    assert_true(two->attenuation == 10.0 && two->load_ohm == 6.0 && two->full_scale_v == 2.0); /* the file's own */
    assert_true(lds_bench_of(bench, 3) == bench);
    assert_string_equal(lds_bench_channel_name(bench, 3), "hum");
    lds_sheet_free(&sheet);
}

static const char good[] = "[capture x]\nfile = x.wav\nrole = idle\n";

static void faults(void **state)
{
    static const struct {
        const char *text, *word, *other;
    } cases[] = {
        {"make = a\n", ":1: 'make' stands before any section", "[unit]"},
        {"[unit]\nmade = a\n", ":2: unknown key in [unit]: 'made'", "is 'make' meant"},
        {"[unit]\nzzzzzzzzzzzz = a\n", ":2: unknown key in [unit]", "docs/job-sheet.md"},
        {"[unti]\nmake = a\n", ":1: unknown section 'unti'", "is 'unit' meant"},
        {"[captur y]\n", ":1: unknown section 'captur'", "is 'capture' meant"},
        {"[unit]\nchannel 65 = a\n", ":2: unknown key", "'channel 65'"},
        {"[unit]\nmake = a\nmake = b\n", ":3: make is stated in line 2 already", "leave one out"},
        {"[unit]\nmake = a\n  b\n", ":3: an indented line", "make"},
        {"[unit]\nmake\n", ":2: is neither a section nor", "key = value"},
        {"[unit\nmake = a\n", ":1: is neither a section nor", "key = value"},
        {"[rating]\npower = 25 V\n", ":2: power is '25 V'", "number in W"},
        {"[rating]\npower = 0\n", ":2: power is 0 W", "more than 0"},
        {"[rating]\ndistortion = 101 %\n", ":2: distortion is 101 %", "at most 100"},
        {"[rating]\nfrequency range = 20 kHz - 20 Hz\n", ":2: frequency range is", "two frequencies"},
        {"[rating]\nchannels driven = 1.5\n", ":2: channels driven is '1.5'", "whole number"},
        {"[job]\ndate = 17.5.2026\n", ":2: date is '17.5.2026'", "2026-05-17"},
        {"[job]\ndate = 2023-02-29\n", ":2: date is", "year-month-day"},
        {"[bench]\nloud = 8\n", ":2: unknown key in [bench]: 'loud'", "is 'load' meant"},
        {"[bench]\nload = 0\n", ":2: load is 0 ohm", "more than 0"},
        {"[channel 2]\nload = 0\n", ":2: load is 0 ohm", "more than 0"},
        {"[channel 2]\nlord = 8\n", ":2: unknown key in [channel 2]: 'lord'", "is 'load' meant"},
        {"[channel 2]\nfile = a.bench\n", ":2: unknown key in [channel 2]: 'file'", "docs/job-sheet.md"},
        {"[channel 65]\nload = 8\n", ":1: unknown section 'channel'", "docs/job-sheet.md"},
        {"[bench]\nfile = nowhere.bench\n", ":2: ", "nowhere.bench: the bench file cannot be opened"},
        {"[bench]\nresponse = nowhere.csv\n", ":2: ", "No such file"},
        {"[parts]\nC1 = 22 uF\n", ":2: C1 is '22 uF'", "10 uF -> 22 uF"},
        {"[limits]\nthd = under 1 %\n", ":2: thd is 'under 1 %'", "at most"},
        {"[limits]\nthdd = at most 1 %\n", ":2: unknown key 'thdd'", "'thd'"},
        {"[capture]\nfile = y.wav\nrole = idle\nchannel = 2\n", ":1: a capture without a name",
         "[capture idle before]"},
        {"[unit]\nsupply = 35 V, x\n", ":2: supply is ' x'", "number in V"},
        {"[unit]\nsupply = 35 V -35 V\n", ":2: supply is '35 V -35 V'", "number in V"},
        {"[capture y]\nfile = y.wav\n", ":1: [capture y] states no role", "chain"},
        {"[capture y]\nfile = y.wav\nrole = sin\n", ":3: role is 'sin'", "is 'sine' meant"},
        {"[capture y]\nfile = y.wav\nrole = sine\nside = x\n", ":4: side is 'x'", "was expected"},
        {"[capture y]\nfile = y.wav\nrole = sine\nchannel = 0\n", ":4: channel is '0'", "from 1 to 64"},
        {"[capture y]\nfile = y.wav\nrole = sine\npower = 1\n", ":4: a power of 1 W without a load", "[bench]"},
        {"[bench]\nload = 8\n[capture y]\nfile = y.wav\nrole = chain\npower = 1\n", ":6: a power found for chain",
         "leave it out"},
        {"[capture y]\nfile = y.wav\nrole = idle\nbench = nowhere.bench\n", ":4: ", "nowhere.bench"},
        {"[capture y]\nfile = y.wav\nrole = idle\nfrequency = 1 kHz\n", ":4: a frequency found for idle",
         "leave it out"},
        {"[capture y]\nfile = y.wav\nrole = sine\nfrequency = 0\n", ":4: frequency is 0 Hz", "more than 0"},
        {"[capture y]\nfile = y.wav\nrole = sine\n[capture y]\nfile = z.wav\nrole = sine\nside = after\n",
         ":4: [capture y] is in line 1 already", "name of its own"},
        {"[capture y]\nfile = y.wav\nrole = sine\n[capture z]\nfile = y.wav\nrole = sine\nside = after\n",
         ":5: 'y.wav' is the file of [capture y]", "name it"},
    };
    (void)state;
    static const char *const names[] = {"x.wav", "y.wav", "z.wav"};
    for (unsigned i = 0; i < 3; i++)
        made_capture(names[i], i, 48000, 2, 0.3, 1e-3, 0.0);
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        char text[1000];
        struct lds_sheet sheet;
        struct lds_remarks wrong;
        struct lds_error error = {0};
        snprintf(text, sizeof text, "%s%s", cases[i].text, good);
        const char *path = files_text("bad.ini", text);
        if (lds_sheet_read(path, &sheet, &wrong, &error) != LDS_BAD_INPUT || wrong.count != 1 ||
            !made_holds(&wrong, cases[i].word, cases[i].other))
            fail_msg("'%s' gave %zu faults: %s", cases[i].text, wrong.count, wrong.count ? wrong.line[0] : "");
        assert_int_equal(strncmp(wrong.line[0], path, strlen(path)), 0);
        assert_null(strpbrk(wrong.line[0], "\n\r"));
        lds_remarks_free(&wrong);
        lds_sheet_free(&sheet);
    }
}

static void all_faults_at_once(void **state)
{
    (void)state;
    struct lds_sheet sheet;
    struct lds_remarks wrong;
    struct lds_error error = {0};
    char text[2000] = "[unit]\nmade = a\nbroken\n[bnech]\nload = 8\n[rating]\npower = x\nlaod = 8\n";
    strcat(text, "[job]\nclient = ");
    memset(text + strlen(text), 'n', 300);
    strcat(text, "\nplcae = here\n");
    assert_int_equal(lds_sheet_read(files_text("bad.ini", text), &sheet, &wrong, &error), LDS_BAD_INPUT);
    static const char *const lines[] = {"bad.ini: no capture",
                                        ":2: ",
                                        ":3: ",
                                        ":4: ",
                                        ":7: ",
                                        ":8: ",
                                        ":10: is longer than 198",
                                        ":11: unknown key in [job]: 'plcae'"};
    assert_int_equal(wrong.count, sizeof lines / sizeof *lines);
    for (size_t i = 0; i < wrong.count; i++)
        if (!strstr(wrong.line[i], lines[i]))
            fail_msg("%s: expected %s", wrong.line[i], lines[i]);
    assert_non_null(strstr(error.message, "8 faults"));
    lds_remarks_free(&wrong);
    lds_sheet_free(&sheet);
}

/* Faults of the sheet and of its captures, in one run and in the order of the lines. */
static void captures_at_once(void **state)
{
    (void)state;
    struct lds_sheet sheet;
    struct lds_remarks wrong;
    struct lds_error error = {0};
    made_capture("there.wav", 1, 48000, 2, 0.3, 1e-3, 0.0);
    files_text("words.wav", "these are words\n");
    const char *path = files_text("bad.ini", "[capture a]\nfile = words.wav\nrole = sine\npower = 10 W\n"
                                             "[capture b]\nfile = there.wav\nrole = idle\nchannel = 7\n");
    assert_int_equal(lds_sheet_read(path, &sheet, &wrong, &error), LDS_BAD_INPUT);
    assert_int_equal(wrong.count, 3);
    assert_non_null(strstr(wrong.line[0], ":1: words.wav: "));
    assert_non_null(strstr(wrong.line[1], ":4: a power of 10 W without a load"));
    assert_non_null(strstr(wrong.line[2], ":5: there.wav: channel 7"));
    lds_remarks_free(&wrong);
    lds_sheet_free(&sheet);
}

static void unreadable(void **state)
{
    (void)state;
    struct lds_sheet sheet;
    struct lds_remarks wrong;
    struct lds_error error = {0};
    assert_int_equal(lds_sheet_read(files_path("nowhere.ini"), &sheet, &wrong, &error), LDS_IO);
    assert_non_null(strstr(error.message, "No such file"));
    assert_int_equal(wrong.count, 0);
    lds_sheet_free(&sheet);
    assert_int_equal(lds_sheet_read("/tmp", &sheet, &wrong, &error), LDS_IO);
    lds_sheet_free(&sheet);
}

/* The sheet to fill in, with captures filled in, can be read, and everything else is not stated. */
static void new_sheet(void **state)
{
    (void)state;
    struct lds_sheet sheet;
    struct lds_error error = {0};
    size_t size, used = 0;
    const char *path = files_path("new.ini");
    unlink(path);
    assert_int_equal(lds_sheet_new(path, &error), LDS_OK);
    char *text = made_bytes(path, &size), *filled = calloc(1, 2 * size);
    assert_int_equal(lds_sheet_new(path, &error), LDS_BAD_USE);
    assert_non_null(strstr(error.message, "exists already"));
    char *again = made_bytes(path, &size);
    assert_string_equal(text, again);
    free(again);
    bool captures = false;
    int files = 0;
    for (char *line = strtok(text, "\n"); line; line = strtok(NULL, "\n")) {
        captures = captures || strncmp(line, "[capture", 8) == 0;
        if (captures && strncmp(line, "file =", 6) == 0)
            used += (size_t)sprintf(filled + used, "file = %d.wav\n", ++files);
        else
            used += (size_t)sprintf(filled + used, "%s\n", line);
    }
    free(text);
    made_read(&sheet, filled);
    free(filled);
    assert_int_equal(sheet.captures, files);
    size_t roles, expected = 0; /* of each role one before and one after the work, of the chain one */
    const struct lds_role *role = lds_roles(&roles);
    for (size_t i = 0; i < roles; i++)
        expected += !role[i].note ? 0 : role[i].chain ? 1 : 2;
    assert_int_equal(files, expected);
    assert_true(!sheet.make && !sheet.date && sheet.parts == 0 && sheet.limits == 0 && isnan(sheet.rating.power_w));
    const struct lds_sheet_capture *sine = sheet.capture;
    while (sine < sheet.capture + sheet.captures && strcmp(sine->name, "sine before") != 0)
        sine++;
    assert_true(sine < sheet.capture + sheet.captures);
    assert_true(isnan(sine->power_w) && isnan(sine->bench.load_ohm));
    assert_true(sine->role == lds_role_find("sine") && sine->when == LDS_WHEN_BEFORE);
    lds_sheet_free(&sheet);
    assert_int_equal(lds_sheet_new("/nowhere/new.ini", &error), LDS_IO);
}

static void the_documentation_agrees(void **state)
{
    (void)state;
    size_t count, row = 0;
    const struct lds_sheet_key *keys = lds_sheet_keys(&count);
    char line[1024], text[256];
    FILE *file = documented_open("job-sheet.md");
    while (fgets(line, sizeof line, file)) {
        if (line[0] != '|')
            continue;
        documented_cell(line, 1, text, sizeof text);
        if (row == 0 && strcmp(text, keys[0].is.name) != 0)
            continue;
        if (row == count)
            break;
        assert_string_equal(text, keys[row].is.name);
        documented_as(line, 0, lds_sheet_section_name(keys[row].section));
        documented_as(line, 2, keys[row].is.unit);
        documented_as(line, 3, keys[row].is.fallback);
        documented_as(line, 5, keys[row].is.meaning);
        row++;
    }
    assert_int_equal(row, count);
    fclose(file);
}

/* The example of the documentation is a valid sheet. */
static void the_example_reads(void **state)
{
    (void)state;
    char path[512];
    size_t size;
    struct lds_sheet sheet;
    snprintf(path, sizeof path, "%s/job-sheet.md", getenv("DOCS"));
    char *text = made_bytes(path, &size);
    assert_non_null(text);
    char *begin = strstr(text, "```ini\n") + strlen("```ini\n");
    *strstr(begin, "```") = '\0';
    files_text("sedge25.ini", "[bench]\nload = 8\n");
    made_read(&sheet, begin);
    assert_int_equal(sheet.captures, 4);
    lds_sheet_free(&sheet);
    free(text);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_key),
        cmocka_unit_test(benches_of_channels),
        cmocka_unit_test(faults),
        cmocka_unit_test(all_faults_at_once),
        cmocka_unit_test(captures_at_once),
        cmocka_unit_test(unreadable),
        cmocka_unit_test(new_sheet),
        cmocka_unit_test(the_documentation_agrees),
        cmocka_unit_test(the_example_reads),
    };
    return cmocka_run_group_tests_name("sheet", tests, files_setup, files_teardown);
}
