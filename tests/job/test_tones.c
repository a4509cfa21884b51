/* Sines of a job are distinguished by their tone. */
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
#include "job/look.h"
#include "made.h"

static const char bench[] = "[bench]\nfull_scale = 2 V\nattenuation = 10\nload = 8 ohm\n";

/* A row of a sheet. */
struct row {
    const char *name, *side, *more;
};

static void write_sheet(char *text, size_t size, const struct row *row, size_t rows)
{
    size_t used = (size_t)snprintf(text, size, "%s", bench);
    for (size_t i = 0; i < rows; i++)
        used += (size_t)snprintf(
            text + used, size - used, "[capture %s-%s]\nfile = %s.wav\nrole = sine\nside = %s\n%s%s", row[i].name,
            row[i].side, row[i].name, row[i].side, strstr(row[i].more, "power") ? "" : "power = 10 W\n", row[i].more);
}

/* The faults of the check. */
static void check(const struct row *row, size_t rows, struct lds_remarks *wrong)
{
    char text[4000];
    struct lds_sheet sheet;
    struct lds_job_checked checked;
    struct lds_error error = {0};
    write_sheet(text, sizeof text, row, rows);
    made_read(&sheet, text);
    enum lds_status status = lds_job_check(&sheet, &checked, &error);
    *wrong = checked.wrong;
    assert_int_equal(status, wrong->count > 0 ? LDS_BAD_INPUT : LDS_OK);
    lds_remarks_free(&checked.missing);
    lds_remarks_free(&checked.fits);
    lds_remarks_free(&checked.captures);
    lds_sheet_free(&sheet);
}

static void run(const struct row *row, size_t rows, struct lds_sheet *sheet, struct lds_job *job)
{
    char text[4000];
    write_sheet(text, sizeof text, row, rows);
    made_read(sheet, text);
    made_run(sheet, 2, job);
}

static void other_tones_are_other_groups(void **state)
{
    (void)state;
    static const double pairs[][2] = {{100.0, 6000.0}, {1000.0, 1012.0}, {440.0, 997.0}, {15000.0, 14800.0}};
    static const char *const titles[][2] = {{"sine, 10 W, 100 Hz", "sine, 10 W, 6 kHz"},
                                            {"sine, 10 W, 1 kHz", "sine, 10 W, 1.012 kHz"},
                                            {"sine, 10 W, 440 Hz", "sine, 10 W, 997 Hz"},
                                            {"sine, 10 W, 15 kHz", "sine, 10 W, 14.8 kHz"}};
    static const char *const slugs[] = {"sine-10w-6khz", "sine-10w-1.012khz", "sine-10w-997hz", "sine-10w-14.8khz"};
    static const struct row rows[] = {
        {"low-b", "before", ""}, {"high-b", "before", ""}, {"low-a", "after", ""}, {"high-a", "after", ""}};
    for (size_t i = 0; i < sizeof pairs / sizeof *pairs; i++) {
        struct lds_sheet sheet;
        struct lds_job job;
        made_tone("low-b.wav", 1, pairs[i][0], 0.632);
        made_tone("high-b.wav", 2, pairs[i][1], 0.632);
        made_tone("low-a.wav", 3, pairs[i][0], 0.632);
        made_tone("high-a.wav", 4, pairs[i][1], 0.632);
        run(rows, 4, &sheet, &job);
        assert_int_equal(job.groups, 2);
        for (size_t g = 0; g < 2; g++) {
            assert_string_equal(job.group[g].title, titles[i][g]);
            assert_true(job.group[g].compared && job.group[g].before == 1 && job.group[g].after == 1);
            assert_ptr_equal(job.group[g].after_capture[0], &job.measurement[2 + g]);
        }
        assert_string_equal(job.group[1].slug, slugs[i]);
        lds_job_free(&job);
        lds_sheet_free(&sheet);
    }
}

/* Within 1 %: one tone, whose name needs no frequency; unless a side has two that were played as two. */
static void one_tone_is_one_group(void **state)
{
    (void)state;
    struct lds_remarks wrong;
    struct lds_sheet sheet;
    struct lds_job job;
    static const struct row unnumbered[] = {{"t1", "before", ""}, {"t2", "before", ""}};
    static const struct row within_clocks[] = {{"t1", "before", ""}, {"t4", "before", ""}};
    static const struct row both[] = {
        {"t1", "before", ""}, {"t2", "before", ""}, {"t4", "after", ""}, {"t5", "after", ""}};
    static const struct row numbered[] = {{"t1", "before", ""}, {"t2", "before", "repeat = 2\n"}, {"t3", "after", ""}};
    static const struct row stated[] = {{"t1", "before", "frequency = 1 kHz\n"}, {"t2", "before", "frequency = 997\n"}};
    made_tone("t1.wav", 1, 1000.0, 0.632);
    made_tone("t2.wav", 2, 997.0, 0.632);
    made_tone("t3.wav", 3, 1004.0, 0.632);
    made_tone("t4.wav", 4, 1000.1, 0.632);
    made_tone("t5.wav", 5, 997.2, 0.632);
    check(unnumbered, 2, &wrong); /* farther apart than clocks differ */
    assert_int_equal(wrong.count, 0);
    lds_remarks_free(&wrong);
    run(both, 4, &sheet, &job);
    assert_int_equal(job.groups, 2);
    for (size_t i = 0; i < 2; i++)
        assert_true(job.group[i].before == 1 && job.group[i].after == 1);
    assert_string_equal(job.group[0].title, "sine, 10 W, 1 kHz");
    lds_job_free(&job);
    lds_sheet_free(&sheet);
    check(within_clocks, 2, &wrong);
    assert_int_equal(wrong.count, 1);
    assert_true(made_holds(&wrong,
                           ":10: [capture t4-before] is of the same role, side, power, tone, channel and repeat as "
                           "[capture t1-before] in line 5; number them with repeat = 2",
                           "repeat = 2"));
    lds_remarks_free(&wrong);
    run(numbered, 3, &sheet, &job);
    assert_int_equal(job.groups, 1);
    assert_string_equal(job.group[0].title, "sine, 10 W");
    assert_true(job.group[0].before == 2 && job.group[0].after == 1);
    lds_job_free(&job);
    lds_sheet_free(&sheet);
    run(stated, 2, &sheet, &job); /* stating both separates them */
    assert_int_equal(job.groups, 2);
    assert_string_equal(job.group[1].title, "sine, 10 W, 997 Hz");
    lds_job_free(&job);
    lds_sheet_free(&sheet);
}

/* Close tones are distinguished whatever the first sine of the sheet is. */
static void close_tones_are_named_after_another_power(void **state)
{
    (void)state;
    struct lds_sheet sheet;
    struct lds_job job;
    static const struct row rows[] = {{"c0", "before", "power = 1 W\n"}, {"c1", "before", ""}, {"c2", "before", ""},
                                      {"c5", "after", "power = 1 W\n"},  {"c3", "after", ""},  {"c4", "after", ""}};
    made_tone("c0.wav", 1, 1000.0, 0.2);
    made_tone("c1.wav", 2, 1000.0, 0.632);
    made_tone("c2.wav", 3, 997.0, 0.632);
    made_tone("c3.wav", 4, 1000.1, 0.632);
    made_tone("c4.wav", 5, 997.1, 0.632);
    made_tone("c5.wav", 6, 1000.0, 0.2);
    run(rows, 6, &sheet, &job);
    assert_int_equal(job.groups, 3);
    assert_string_equal(job.group[0].title, "sine, 1 W, 1 kHz");
    assert_string_equal(job.group[1].title, "sine, 10 W, 1 kHz");
    assert_string_equal(job.group[2].title, "sine, 10 W, 997 Hz");
    lds_job_free(&job);
    lds_sheet_free(&sheet);
}

static void repeats_are_of_one_tone(void **state)
{
    (void)state;
    struct lds_remarks wrong;
    static const struct row wrongly[] = {{"u1", "before", ""}, {"u2", "before", "repeat = 2\n"}};
    static const struct row rightly[] = {
        {"u1", "before", ""}, {"u2", "before", ""}, {"u3", "before", "repeat = 2\n"}, {"u4", "before", "repeat = 2\n"}};
    made_tone("u1.wav", 1, 1000.0, 0.632);
    made_tone("u2.wav", 2, 6000.0, 0.632);
    made_tone("u3.wav", 3, 1000.0, 0.632);
    made_tone("u4.wav", 4, 6000.0, 0.632);
    check(wrongly, 2, &wrong);
    assert_int_equal(wrong.count, 1);
    assert_true(made_holds(
        &wrong,
        ":10: [capture u2-before], repeat = 2, holds a tone of 6 kHz, and [capture u1-before] in line 5 one of "
        "1 kHz",
        "leave repeat out"));
    lds_remarks_free(&wrong);
    check(rightly, 4, &wrong);
    assert_int_equal(wrong.count, 0);
    lds_remarks_free(&wrong);
}

static void the_stated_frequency_is_held_against_the_capture(void **state)
{
    (void)state;
    struct lds_remarks wrong;
    struct lds_sheet sheet;
    struct lds_job job;
    static const struct row false_row[] = {{"v1", "before", "frequency = 1 kHz\n"}};
    static const struct row true_row[] = {{"v1", "before", "frequency = 6.05 kHz\n"}};
    made_tone("v1.wav", 1, 6000.0, 0.632);
    check(false_row, 1, &wrong);
    assert_int_equal(wrong.count, 1);
    assert_true(made_holds(&wrong, ":5: v1.wav: holds a tone of 6 kHz", "frequency = 1 kHz"));
    lds_remarks_free(&wrong);
    run(true_row, 1, &sheet, &job);
    assert_string_equal(job.group[0].title, "sine, 10 W, 6.05 kHz");
    lds_job_free(&job);
    lds_sheet_free(&sheet);
}

/* If one channel is driven, its tone counts, whatever the other picks up. */
static void the_driven_channel_says_the_tone(void **state)
{
    (void)state;
    double *samples = calloc(2 * 48000, sizeof *samples);
    struct lds_faults faults = {0};
    struct lds_sheet sheet;
    assert_non_null(samples);
    for (size_t i = 0; i < 48000; i++) {
        samples[2 * i] = 2e-3 * sin(2.0 * M_PI * 300.0 * (double)i / 48000.0);
        samples[2 * i + 1] = 0.5 * sin(2.0 * M_PI * 3000.0 * (double)i / 48000.0);
    }
    files_sound("w1.wav", SF_FORMAT_WAV | SF_FORMAT_PCM_24, 48000, 2, samples, 48000);
    free(samples);
    made_read(&sheet, "[bench]\nfull_scale = 2 V\nattenuation = 10\nload = 8 ohm\n"
                      "[capture w1]\nfile = w1.wav\nrole = sine\n");
    struct lds_look *look = lds_look_at(&sheet, &faults);
    assert_non_null(look);
    assert_int_equal(faults.count, 0);
    assert_int_equal(look->tones, 2);
    assert_true(fabs(look->tone_hz - 3000.0) < 0.01);
    assert_true(fabs(look->tone[1].level / (0.5 * M_SQRT1_2 * 20.0) - 1.0) < 1e-3);
    assert_true(fabs(look->tone[0].level / (2e-3 * M_SQRT1_2 * 20.0) - 1.0) < 1e-3);
    free(look);
    lds_faults_free(&faults);
    lds_sheet_free(&sheet);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(other_tones_are_other_groups),
        cmocka_unit_test(one_tone_is_one_group),
        cmocka_unit_test(close_tones_are_named_after_another_power),
        cmocka_unit_test(repeats_are_of_one_tone),
        cmocka_unit_test(the_stated_frequency_is_held_against_the_capture),
        cmocka_unit_test(the_driven_channel_says_the_tone),
    };
    return cmocka_run_group_tests_name("tones", tests, files_setup, files_teardown);
}
