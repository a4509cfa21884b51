/* A capture that does not match its role is named, by the check and by the report. */
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
#include "made.h"
#include "simulate/random.h"

enum { RATE_HZ = 48000, FRAMES = 5 * RATE_HZ };
enum played { SILENCE, ONE, TWO, SWEEP, BURST };

static double sample(enum played played, double first_hz, double second_hz, double t)
{
    switch (played) {
    case SILENCE:
        return 0.0;
    case ONE:
        return 0.5 * sin(2.0 * M_PI * first_hz * t);
    case TWO:
        return 0.3 * (sin(2.0 * M_PI * first_hz * t) + sin(2.0 * M_PI * second_hz * t));
    case SWEEP: { /* exponential, over 5 s */
        double rate = log(second_hz / first_hz) / 5.0;
        return 0.5 * sin(2.0 * M_PI * first_hz / rate * (exp(rate * t) - 1.0));
    }
    case BURST:
        return fmod(t, 1.0) < 0.5 ? 0.5 * sin(2.0 * M_PI * first_hz * t) : 0.0;
    }
    return 0.0;
}

static void make(const char *name, unsigned seed, enum played played, double first_hz, double second_hz)
{
    struct sim_random random;
    double *samples = calloc(FRAMES, sizeof *samples);
    assert_non_null(samples);
    sim_random_seed(&random, seed);
    for (size_t i = 0; i < FRAMES; i++)
        samples[i] = sample(played, first_hz, second_hz, (double)i / RATE_HZ) + 1e-5 * sim_random_gaussian(&random);
    files_sound(name, SF_FORMAT_WAV | SF_FORMAT_PCM_24, RATE_HZ, 1, samples, FRAMES);
    free(samples);
}

static bool holds(const struct lds_remarks *remarks, const char *words)
{
    for (size_t i = 0; i < remarks->count; i++)
        if (strstr(remarks->line[i], words))
            return true;
    return false;
}

static void roles(void **state)
{
    (void)state;
    static const struct {
        const char *role;
        enum played played;
        double first_hz, second_hz;
        const char *check, *report; /* NULL: nothing */
    } row[] = {
        {"sine", ONE, 1000.0, 0.0, NULL, NULL},
        {"sine", ONE, 60.0, 0.0, NULL, NULL},
        {"idle", SILENCE, 0.0, 0.0, NULL, NULL},
        {"sine", SILENCE, 0.0, 0.0, "p: role = sine, and this capture holds no tone.",
         "p: role = sine, and this capture holds no tone."},
        {"idle", ONE, 3150.0, 0.0, "p: role = idle, and this capture holds a tone of 3.15 kHz.",
         "p: role = idle, and this capture holds a tone of 3.15 kHz."},
        {"sine", TWO, 19000.0, 20000.0, "p: role = sine, and this capture holds two tones, ",
         "p: role = sine, and this capture holds two strong tones, "},
        {"idle", TWO, 400.0, 7000.0, "p: role = idle, and this capture holds two tones, ",
         "p: role = idle, and this capture holds two tones, "},
        {"sine", SWEEP, 20.0, 20000.0, "", "p: role = sine, and this capture holds a sweep"},
        {"sine", BURST, 1000.0, 0.0, "", "Hz in bursts, 5 of them."},
    };
    for (size_t i = 0; i < sizeof row / sizeof *row; i++) {
        char text[400];
        struct lds_sheet sheet;
        struct lds_job job;
        struct lds_job_checked checked;
        struct lds_error error = {0};
        make("p.wav", (unsigned)i, row[i].played, row[i].first_hz, row[i].second_hz);
        snprintf(text, sizeof text,
                 "[bench]\nfull_scale = 2 V\nattenuation = 10\nload = 8 ohm\n[capture p]\nfile = p.wav\nrole = %s\n",
                 row[i].role);
        made_read(&sheet, text);
        assert_int_equal(lds_job_check(&sheet, &checked, &error), LDS_OK);
        bool said = holds(&checked.missing, row[i].check && row[i].check[0] ? row[i].check : "this capture holds");
        if ((!row[i].check || row[i].check[0]) && said != (row[i].check != NULL)) /* "": the look may miss it */
            fail_msg("row %zu: the check is wrong", i);
        made_run(&sheet, 2, &job);
        if (job.unlike.count != (row[i].report ? 1u : 0u) || (row[i].report && !holds(&job.unlike, row[i].report)))
            fail_msg("row %zu: the report says %s", i, job.unlike.count ? job.unlike.line[0] : "nothing");
        assert_false(holds(&job.missing, "this capture holds"));
        lds_job_free(&job);
        lds_sheet_free(&sheet);
        lds_job_checked_free(&checked);
    }
}

/* A sheet with one capture of a role and another key; the faults of reading it. */
static char *faults_of(const struct lds_role *role, const char *key, struct lds_sheet *sheet)
{
    char text[400];
    struct lds_remarks wrong;
    struct lds_error error = {0};
    char *faults = calloc(1, 1);
    snprintf(text, sizeof text,
             "[bench]\nload = 8 ohm\n[capture i]\nfile = i.wav\nrole = idle\n"
             "[capture p]\nfile = p.wav\nrole = %s\n%s\n",
             role->name, key);
    const char *path = files_text("role.ini", text);
    (void)lds_sheet_read(path, sheet, &wrong, &error);
    for (size_t i = 0; i < wrong.count; i++) {
        char *more = NULL;
        assert_true(asprintf(&more, "%s%s\n", faults, wrong.line[i]) > 0);
        free(faults);
        faults = more;
    }
    lds_remarks_free(&wrong);
    return faults;
}

static void key_holds(const struct lds_role *role, const char *key, const char *fault, bool has)
{
    struct lds_sheet sheet;
    char *faults = faults_of(role, key, &sheet);
    if ((strstr(faults, fault) == NULL) != has)
        fail_msg("role = %s with %s: %s", role->name, key, faults);
    free(faults);
    lds_sheet_free(&sheet);
}

/* The rows of the table are the roles of sheets, messages, the sheet to fill in, and the documentation. */
static void every_role(void **state)
{
    (void)state;
    size_t roles, size;
    const struct lds_role *role = lds_roles(&roles);
    char path[512], row[64], list[400] = "";
    const char *new_path = files_path("new-roles.ini");
    const struct lds_role none = {.name = "nonesuch"};
    struct lds_sheet sheet;
    assert_int_equal(lds_sheet_new(new_path, NULL), LDS_OK);
    char *new_sheet = made_bytes(new_path, &size);
    snprintf(path, sizeof path, "%s/job-sheet.md", getenv("DOCS"));
    char *docs = made_bytes(path, &size), *unknown = faults_of(&none, "", &sheet);
    lds_sheet_free(&sheet);
    for (size_t i = 0; i < roles; i++) {
        assert_ptr_equal(lds_role_find(role[i].name), &role[i]);
        char *faults = faults_of(&role[i], "", &sheet);
        assert_ptr_equal(sheet.capture[1].role, &role[i]);
        assert_null(strstr(faults, "role"));
        free(faults);
        lds_sheet_free(&sheet);
        key_holds(&role[i], "power = 10 W", "a power found", role[i].power);
        key_holds(&role[i], "frequency = 1 kHz", "a frequency found", role[i].tone);
        assert_non_null(strstr(strstr(unknown, "role is 'nonesuch'"), role[i].name));
        snprintf(row, sizeof row, "\nrole = %s", role[i].name);
        assert_true((strstr(new_sheet, row) != NULL) == (role[i].note != NULL));
        assert_true(!role[i].note || strstr(new_sheet, role[i].note));
        snprintf(row, sizeof row, "\n| `%s` | ", role[i].name);
        assert_non_null(strstr(docs, row));
        strcat(strcat(list, i ? ", " : "| must be stated | "), role[i].name);
    }
    strcat(list, " | what was captured |");
    assert_non_null(strstr(docs, list)); /* at the key `role` */
    assert_null(lds_role_find("nonesuch"));
    free(unknown);
    free(new_sheet);
    free(docs);
}

/* A report without a capture of a role says what it lacks for that reason; a report with one does not. */
static void every_lack(void **state)
{
    (void)state;
    size_t roles;
    const struct lds_role *role = lds_roles(&roles);
    make("r.wav", 1, SILENCE, 0.0, 0.0);
    for (size_t i = 0; i < roles; i++) {
        char text[200];
        struct lds_sheet sheet;
        struct lds_job_checked checked;
        make("s.wav", 2, SILENCE, 0.0, 0.0);
        snprintf(text, sizeof text,
                 "[capture p]\nfile = r.wav\nrole = %s\n[capture q]\nfile = s.wav\nrole = %s\nrepeat = 2\n",
                 role[i].name, role[i].chain ? "idle" : role[i].name);
        made_read(&sheet, text);
        assert_int_equal(lds_job_check(&sheet, &checked, NULL), LDS_OK);
        for (size_t k = 0; k < roles; k++) {
            bool there = k == i || (role[i].chain && strcmp(role[k].name, "idle") == 0);
            if (role[k].without && holds(&checked.missing, role[k].without) == there)
                fail_msg("role = %s: %s", role[i].name, role[k].without);
        }
        lds_sheet_free(&sheet);
        lds_job_checked_free(&checked);
    }
}

/* A role states the signal that it holds where the command has an option for it. The capture is idle, so that nothing
 * else can have found the signal. */
static void every_statement(void **state)
{
    (void)state;
    size_t roles;
    const struct lds_role *role = lds_roles(&roles);
    make("r.wav", 1, SILENCE, 0.0, 0.0);
    for (size_t i = 0; i < roles; i++) {
        char text[200];
        struct lds_sheet sheet;
        struct lds_job job;
        if (role[i].chain) /* alone it is no job */
            continue;
        const bool stated = lds_signal_stated(role[i].holds) == LDS_STATED_BY_OPTION;
        snprintf(text, sizeof text, "[capture p]\nfile = r.wav\nrole = %s\n", role[i].name);
        made_read(&sheet, text);
        made_run(&sheet, 1, &job);
        if (job.measurement[0].signal.stated != stated)
            fail_msg("role = %s", role[i].name);
        assert_int_equal(job.measurement[0].signal.kind, stated ? role[i].holds : LDS_SIGNAL_SILENCE);
        lds_job_free(&job);
        lds_sheet_free(&sheet);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(every_role), cmocka_unit_test(every_lack),
                                       cmocka_unit_test(every_statement), cmocka_unit_test(roles)};
    return cmocka_run_group_tests_name("roles", tests, files_setup, files_teardown);
}
