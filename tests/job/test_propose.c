/* Sheets proposed from the captures in a folder. Seeds: those of the captures below. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "capture/files.h"
#include "made.h"

static char folder[400];

static void remove_folder(void)
{
    char command[500];
    snprintf(command, sizeof command, "rm -rf '%s'", folder);
    assert_int_equal(system(command), 0);
}

/* An empty folder within that of the files, for the captures. */
static void begin(const char *name)
{
    if (folder[0])
        remove_folder();
    snprintf(folder, sizeof folder, "%s", files_path(name));
    assert_int_equal(mkdir(folder, 0777), 0);
}

/* Puts a file into the folder under any name; it is made elsewhere. */
static void keep(const char *made, const char *name)
{
    char to[700], from[700];
    snprintf(from, sizeof from, "%s", files_path(made));
    snprintf(to, sizeof to, "%s/%s", folder, name);
    assert_int_equal(rename(from, to), 0);
}

static void tone(const char *name, unsigned seed, double hz, double peak)
{
    made_tone("made.wav", seed, hz, peak);
    keep("made.wav", name);
}

static void idle(const char *name, unsigned seed)
{
    made_capture("made.wav", seed, 48000, 1, 1.0, 1e-4, 0.0);
    keep("made.wav", name);
}

/* Proposes a sheet beside the folder or within it, and reads it. */
static void propose(bool within, struct lds_sheet *sheet, struct lds_remarks *said)
{
    char path[500];
    struct lds_error error = {0};
    struct lds_remarks wrong = {0};
    snprintf(path, sizeof path, "%s%s", within ? folder : files_path("proposed.ini"), within ? "/proposed.ini" : "");
    unlink(path);
    if (lds_sheet_from(path, folder, NULL, said, &error) != LDS_OK)
        fail_msg("%s", error.message);
    if (lds_sheet_read(path, sheet, &wrong, &error) != LDS_OK)
        fail_msg("%s", wrong.count ? wrong.line[0] : error.message);
    lds_remarks_free(&wrong);
    struct lds_job_checked checked;
    if (lds_job_check(sheet, &checked, &error) != LDS_OK)
        fail_msg("%s", error.message);
    assert_int_equal(checked.to_make, 0);
    lds_job_checked_free(&checked);
}

static const struct lds_sheet_capture *of_file(const struct lds_sheet *sheet, const char *name)
{
    for (size_t i = 0; i < sheet->captures; i++) {
        const char *slash = strrchr(sheet->capture[i].file, '/');
        if (strcmp(slash ? slash + 1 : sheet->capture[i].file, name) == 0)
            return &sheet->capture[i];
    }
    fail_msg("no capture of %s", name);
    return NULL;
}

/* 20 V at the load reads 1.0, so a peak of p is 25 p^2 W into 8 ohm. */
static const char bench[] = "[bench]\nfull_scale = 2 V\nattenuation = 10\nload = 8\n";

static void what_the_captures_hold(void **state)
{
    (void)state;
    struct lds_sheet sheet;
    struct lds_remarks said;
    begin("held");
    tone("Pre 997 1.wav", 1, 997.0, 0.6324);  /* 10.0 W */
    tone("Pre 997 2.wav", 2, 997.02, 0.6380); /* 10.2 W: the same power */
    tone("Pre 997 10.wav", 3, 997.0, 0.3162); /* 2.5 W */
    tone("997_POST.wav", 4, 996.9, 0.6324);
    tone("post-1012.wav", 5, 1012.0, 0.6324);
    idle("idle-before.wav", 6);
    idle("idle-after.wav", 7);
    idle("the chain.wav", 8);
    files_text("words.txt", "these are words\n");
    keep("words.txt", "words.txt");
    files_text("b.ini", bench);
    keep("b.ini", "b.ini");
    tone("played.wav", 9, 997.0, 0.5); /* a signal, as its sidecar says */
    files_text("played.ini", "[signal]\nkind = sine\nfrequency = 997\n");
    keep("played.ini", "played.ini");
    propose(false, &sheet, &said);
    assert_true(made_holds(&said, "played.wav: passed over: ", "a signal to play"));
    assert_true(made_holds(&said, "played.ini: passed over: ", "describes a signal"));
    assert_true(made_holds(&said, "words.txt: passed over: ", "a capture was expected"));
    assert_true(made_holds(&said, "b.ini: a bench file", ""));
    assert_true(made_holds(&said, "8 captures", ""));
    assert_string_equal(sheet.bench_file, "held/b.ini");
    assert_int_equal(sheet.captures, 8);
    const struct lds_sheet_capture *first = of_file(&sheet, "Pre 997 1.wav"),
                                   *second = of_file(&sheet, "Pre 997 2.wav");
    const struct lds_sheet_capture *low = of_file(&sheet, "Pre 997 10.wav"), *after = of_file(&sheet, "997_POST.wav");
    assert_true(first->role == lds_role_find("sine") && first->when == LDS_WHEN_BEFORE && first->repeat == 1);
    assert_true(second->when == LDS_WHEN_BEFORE && second->repeat == 2 && after->when == LDS_WHEN_AFTER);
    assert_true(first->power_w == 10.0 && second->power_w == 10.0 && after->power_w == 10.0);
    assert_true(low->power_w == 2.5 && low->repeat == 1 && after->repeat == 1);
    assert_true(first->frequency_hz == 997.0 && second->frequency_hz == 997.0 && after->frequency_hz == 997.0);
    assert_true(of_file(&sheet, "post-1012.wav")->frequency_hz == 1012.0);
    assert_true(of_file(&sheet, "idle-before.wav")->role == lds_role_find("idle"));
    assert_true(of_file(&sheet, "idle-after.wav")->when == LDS_WHEN_AFTER);
    assert_true(of_file(&sheet, "the chain.wav")->role == lds_role_find("chain"));
    lds_sheet_free(&sheet);
    lds_remarks_free(&said);
}

/* Tones within 1 % that are not the same: the sheet leaves it to the job to tell them apart. */
static void close_tones(void **state)
{
    (void)state;
    struct lds_sheet sheet;
    struct lds_remarks said;
    begin("close");
    tone("before.wav", 11, 1000.0, 0.5);
    tone("after.wav", 12, 1004.0, 0.5);
    tone("after high.wav", 13, 6000.0, 0.5);
    propose(false, &sheet, &said);
    assert_true(isnan(of_file(&sheet, "before.wav")->frequency_hz) &&
                isnan(of_file(&sheet, "after.wav")->frequency_hz));
    assert_true(isnan(of_file(&sheet, "before.wav")->power_w)); /* without a bench */
    assert_true(of_file(&sheet, "after high.wav")->frequency_hz == 6000.0);
    lds_sheet_free(&sheet);
    lds_remarks_free(&said);
}

/* A sweep, and one channel of two: the role is left to fill in, and the driven channel named. */
static void no_role_and_one_channel(void **state)
{
    (void)state;
    enum { FRAMES = 96000 };
    double *samples = calloc(2 * FRAMES, sizeof *samples);
    struct lds_remarks said;
    struct lds_error error = {0};
    size_t size;
    assert_non_null(samples);
    begin("sweep");
    for (size_t i = 0; i < FRAMES; i++) {
        double s = (double)i / 48000.0;
        samples[2 * i] = samples[2 * i + 1] = 0.3 * sin(2.0 * M_PI * (100.0 * s + 2500.0 * s * s));
    }
    files_sound("made.wav", SF_FORMAT_WAV | SF_FORMAT_PCM_24, 48000, 2, samples, FRAMES);
    keep("made.wav", "moving.wav");
    for (size_t i = 0; i < FRAMES; i++) {
        samples[2 * i] = 0.0;
        samples[2 * i + 1] = 0.3 * sin(2.0 * M_PI * 440.0 * (double)i / 48000.0);
    }
    files_sound("made.wav", SF_FORMAT_WAV | SF_FORMAT_PCM_24, 48000, 2, samples, FRAMES);
    keep("made.wav", "single.wav");
    for (size_t i = 0; i < FRAMES; i++)
        samples[2 * i] = samples[2 * i + 1] =
            0.2 * sin(2.0 * M_PI * 440.0 * (double)i / 48000.0) + 0.2 * sin(2.0 * M_PI * 1013.0 * (double)i / 48000.0);
    files_sound("made.wav", SF_FORMAT_WAV | SF_FORMAT_PCM_24, 48000, 2, samples, FRAMES);
    keep("made.wav", "double.wav");
    free(samples);
    const char *path = files_path("sweep.ini");
    unlink(path);
    assert_int_equal(lds_sheet_from(path, folder, NULL, &said, &error), LDS_OK);
    lds_remarks_free(&said);
    char *text = made_bytes(path, &size);
    assert_non_null(strstr(text, "file = sweep/moving.wav\nrole = sweep"));
    assert_non_null(strstr(text, "file = sweep/double.wav\nrole =  "));
    assert_non_null(strstr(text, "no role is for that: fill in"));
    assert_non_null(strstr(strstr(text, "file = sweep/single.wav"), "driven = 2 "));
    free(text);
}

static void date(const char *name, long long day)
{
    char command[900];
    snprintf(command, sizeof command, "touch -d @%lld '%s/%s'", day * 86400 + 43200, folder, name);
    assert_int_equal(system(command), 0);
}

static void sides_from_dates(void **state)
{
    (void)state;
    struct lds_sheet sheet;
    struct lds_remarks said;
    begin("dates");
    idle("x.wav", 21);
    idle("y.wav", 22);
    date("x.wav", 20001);
    date("y.wav", 20000);
    propose(false, &sheet, &said);
    assert_int_equal(of_file(&sheet, "x.wav")->when, LDS_WHEN_AFTER);
    assert_int_equal(of_file(&sheet, "y.wav")->when, LDS_WHEN_BEFORE);
    lds_sheet_free(&sheet);
    lds_remarks_free(&said);
    date("y.wav", 20001); /* a single day says nothing about the side */
    propose(false, &sheet, &said);
    assert_int_equal(of_file(&sheet, "x.wav")->when, LDS_WHEN_ANY);
    assert_int_equal(of_file(&sheet, "y.wav")->repeat, 2);
    lds_sheet_free(&sheet);
    lds_remarks_free(&said);
    idle("z.wav", 23);
    date("y.wav", 20000);
    date("z.wav", 20002); /* nor do three days */
    propose(false, &sheet, &said);
    assert_int_equal(of_file(&sheet, "z.wav")->when, LDS_WHEN_ANY);
    lds_sheet_free(&sheet);
    lds_remarks_free(&said);
}

static void any_name(void **state)
{
    (void)state;
    static const char *const names[] = {"a ;b.wav",     "a=b ; c = d.wav", "\"all\".wav", "\"",
                                        " blank .wav ", "ümlaut [1].wav",  "it's.wav",    ";.wav",
                                        "#.wav",        "a\"b;c.wav",      "[x].wav",     "x \"y\" z.wav"};
    struct lds_sheet sheet;
    struct lds_remarks said;
    begin("odd \"na=mes");
    for (unsigned i = 0; i < sizeof names / sizeof *names; i++)
        idle(names[i], 30 + i);
    idle("a\tb.wav", 60);
    idle("q\" ;r.wav", 61);
    idle("\xff.wav", 62);
    for (int within = 0; within < 2; within++) {
        propose(within, &sheet, &said);
        assert_int_equal(sheet.captures, sizeof names / sizeof *names);
        for (size_t i = 0; i < sizeof names / sizeof *names; i++)
            assert_non_null(of_file(&sheet, names[i]));
        assert_true(made_holds(&said, "a\tb.wav: passed over", "cannot stand in a sheet"));
        assert_true(made_holds(&said, "q\" ;r.wav: passed over", "cannot stand in a sheet"));
        lds_sheet_free(&sheet);
        lds_remarks_free(&said);
    }
}

static void what_is_refused(void **state)
{
    (void)state;
    struct lds_remarks said;
    struct lds_error error = {0};
    char path[400], *kept;
    size_t size;
    begin("empty");
    snprintf(path, sizeof path, "%s", files_path("refused.ini"));
    unlink(path);
    assert_int_equal(lds_sheet_from(path, folder, NULL, &said, &error), LDS_BAD_INPUT);
    assert_non_null(strstr(error.message, "holds no capture"));
    assert_int_equal(access(path, F_OK), -1);
    lds_remarks_free(&said);
    assert_int_equal(lds_sheet_from(path, "/nowhere", NULL, &said, &error), LDS_IO);
    lds_remarks_free(&said);
    idle("x.wav", 70);
    assert_int_equal(lds_sheet_from(path, folder, files_path("nowhere.ini"), &said, &error), LDS_IO);
    lds_remarks_free(&said);
    files_text("refused.ini", "mine");
    assert_int_equal(lds_sheet_from(path, folder, NULL, &said, &error), LDS_BAD_USE);
    lds_remarks_free(&said);
    kept = made_bytes(path, &size);
    assert_string_equal(kept, "mine");
    free(kept);
}

static int end(void **state)
{
    remove_folder();
    return files_teardown(state);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(what_the_captures_hold),
        cmocka_unit_test(close_tones),
        cmocka_unit_test(no_role_and_one_channel),
        cmocka_unit_test(sides_from_dates),
        cmocka_unit_test(any_name),
        cmocka_unit_test(what_is_refused),
    };
    return cmocka_run_group_tests_name("job propose", tests, files_setup, end);
}
