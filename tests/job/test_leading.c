/* Of the roles that hold the same signal one stands for it. The table has one role for each signal; a second one, which
 * holds silence as idle does, is made here. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>
#include <stdio.h>
#include <string.h>

#include "capture/files.h"
#include "job/look.h"
#include "job/roles.h"
#include "made.h"
#include "report/client.h"

static const struct lds_role warm_up = {.name = "warm-up", .holds = LDS_SIGNAL_SILENCE};

/* Warming up comes first in the sheets, and is noisier. */
static const char bench[] = "[bench]\nfull_scale = 2 V\nattenuation = 10\nload = 8 ohm\ndc_coupled = yes\n";
static const char warming[] = "[capture warm before]\nfile = warm-before.wav\nrole = idle\nside = before\nrepeat = 9\n"
                              "[capture warm after]\nfile = warm-after.wav\nrole = idle\nside = after\nrepeat = 9\n";
static const char idle[] = "[capture idle before]\nfile = idle-before.wav\nrole = idle\nside = before\n"
                           "[capture idle after]\nfile = idle-after.wav\nrole = idle\nside = after\n";
static const char sine[] = "[capture sine before]\nfile = sine-before.wav\nrole = sine\nside = before\n"
                           "[capture sine after]\nfile = sine-after.wav\nrole = sine\nside = after\n";
static const char resistor[] = "[expect input resistor]\nkind = resistor\nr = 10 kohm\ngain = 40 dB\n";

static int setup(void **state)
{
    if (files_setup(state))
        return 1;
    made_captures();
    made_capture("warm-before.wav", 5, 48000, 2, 2.0, 3e-3, 0.0);
    made_capture("warm-after.wav", 6, 48000, 2, 2.0, 1e-3, 0.0);
    return 0;
}

/* Runs a job of these sections. */
static void run(struct lds_sheet *sheet, struct lds_job *job, const char *first, const char *second, const char *third)
{
    char text[3000];
    snprintf(text, sizeof text, "%s%s%s%s%s", bench, resistor, first, second, third);
    made_read(sheet, text);
    for (size_t i = 0; i < sheet->captures; i++)
        if (strncmp(sheet->capture[i].name, "warm", 4) == 0) {
            sheet->capture[i].role = &warm_up;
            sheet->capture[i].repeat = 1;
        }
    made_run(sheet, 2, job);
}

static void one_role_leads_each_signal(void **state)
{
    (void)state;
    size_t roles;
    const struct lds_role *role = lds_roles(&roles);
    for (int kind = 0; kind < LDS_SIGNALS; kind++) {
        size_t holding = 0, leading = 0;
        for (size_t i = 0; i < roles; i++) {
            if ((int)role[i].holds != kind)
                continue;
            holding++;
            leading += role[i].leads;
            if (role[i].leads)
                assert_ptr_equal(lds_role_leading((enum lds_signal_kind)kind), &role[i]);
        }
        if (leading != (holding > 0 && kind != LDS_SIGNAL_NONE))
            fail_msg("%zu roles lead the signal '%s'", leading, lds_signal_name((enum lds_signal_kind)kind));
        if (leading == 0)
            assert_ptr_equal(lds_role_leading((enum lds_signal_kind)kind), &lds_role_unknown);
    }
    for (size_t i = 0; i < roles; i++)
        assert_false(role[i].chain && role[i].leads);
}

static void a_look_finds_the_role_that_leads(void **state)
{
    (void)state;
    static const struct {
        size_t tones;
        struct lds_tone tone;
        const char *role;
    } row[] = {{0, {0}, "idle"},
               {1, {.tones = 1, .frequency_hz = 1e3, .level = 1.0, .channel = 1}, "sine"},
               {1, {.tones = 1, .frequency_hz = 100.0, .level = 1.0, .channel = 1, .perhaps_hum = true}, "idle"},
               {1, {.tones = 3, .frequency_hz = 1e3, .level = 1.0, .channel = 1}, ""}};
    for (size_t i = 0; i < sizeof row / sizeof *row; i++) {
        char words[100];
        const struct lds_look look = {.good = true, .tones = row[i].tones, .tone = {row[i].tone}};
        assert_string_equal(lds_role_of_look(&look, words, sizeof words)->name, row[i].role);
    }
}

static const struct lds_client_row *same_row(const struct lds_client *client, const struct lds_client_row *row)
{
    for (size_t i = 0; i < client->rows; i++)
        if (strcmp(client->row[i].label.text, row->label.text) == 0)
            return &client->row[i];
    fail_msg("no row '%s'", row->label.text);
    return NULL;
}

/* All that the page has without warming up stands there with it. */
static void same_page(const struct lds_job *without, const struct lds_job *with)
{
    struct lds_client a, b;
    lds_client_make(&a, without);
    lds_client_make(&b, with);
    assert_true(a.rows > 2 && a.compared == b.compared);
    for (size_t i = 0; i < a.rows; i++) {
        const struct lds_client_row *other = same_row(&b, &a.row[i]);
        for (size_t c = 0; c < a.channels; c++) {
            assert_string_equal(a.row[i].cell[c].before.text, other->cell[c].before.text);
            assert_string_equal(a.row[i].cell[c].after.text, other->cell[c].after.text);
        }
    }
    lds_client_free(&a);
    lds_client_free(&b);
}

static void the_page_shows_the_role_that_leads(void **state)
{
    (void)state;
    static const char *const others[] = {sine, ""};
    for (size_t i = 0; i < 2; i++) {
        struct lds_sheet sheet[2];
        struct lds_job job[2];
        run(&sheet[0], &job[0], idle, others[i], "");
        run(&sheet[1], &job[1], warming, idle, others[i]);
        same_page(&job[0], &job[1]);
        for (int k = 0; k < 2; k++) {
            lds_job_free(&job[k]);
            lds_sheet_free(&sheet[k]);
        }
    }
}

static void one_side_shows_the_role_that_leads(void **state)
{
    (void)state;
    static const char warm_after[] = "[capture warm]\nfile = warm-after.wav\nrole = idle\nside = after\nrepeat = 9\n",
                      idle_after[] = "[capture idle]\nfile = idle-after.wav\nrole = idle\nside = after\n";
    struct lds_sheet sheet[2];
    struct lds_job job[2];
    run(&sheet[0], &job[0], idle_after, "", "");
    run(&sheet[1], &job[1], warm_after, idle_after, "");
    same_page(&job[0], &job[1]);
    for (int k = 0; k < 2; k++) {
        lds_job_free(&job[k]);
        lds_sheet_free(&sheet[k]);
    }
}

static void parts_are_held_against_the_role_that_leads(void **state)
{
    (void)state;
    static const struct {
        const char *first, *second, *shows;
    } row[] = {{warming, idle, "idle"}, {idle, warming, "idle"}, {sine, warming, "warm"}};
    for (size_t i = 0; i < sizeof row / sizeof *row; i++) {
        struct lds_sheet sheet;
        struct lds_job job;
        run(&sheet, &job, row[i].first, row[i].second, "");
        assert_int_equal(job.expecteds, 4); /* two sides, two channels */
        for (size_t k = 0; k < job.expecteds; k++) {
            assert_non_null(job.expected[k].capture);
            assert_memory_equal(job.expected[k].capture->name, row[i].shows, 4);
        }
        lds_job_free(&job);
        lds_sheet_free(&sheet);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(one_role_leads_each_signal), cmocka_unit_test(a_look_finds_the_role_that_leads),
        cmocka_unit_test(the_page_shows_the_role_that_leads), cmocka_unit_test(one_side_shows_the_role_that_leads),
        cmocka_unit_test(parts_are_held_against_the_role_that_leads)};
    return cmocka_run_group_tests_name("leading", tests, setup, files_teardown);
}
