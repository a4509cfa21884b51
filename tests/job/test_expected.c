/* What the parts of a sheet imply, beside what captures show that were made with such parts. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>
#include <jansson.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "capture/files.h"
#include "job/steps.h"
#include "loadside/report.h"
#include "made.h"
#include "report/expected_cells.h"
#include "simulate/random.h"

enum { RATE_HZ = 48000 };
static const double FULL_SCALE_V = 0.1;

/* A sweep through a first-order high-pass: bilinear, exact at its corner. */
static void make_sweep(const char *name, double corner_hz)
{
    struct lds_signal_spec spec;
    struct lds_error error = {0};
    lds_signal_spec_init(&spec, LDS_SIGNAL_SWEEP);
    spec.seconds = 4.0;
    assert_int_equal(lds_signal_spec_check(&spec, &error), LDS_OK);
    assert_int_equal(lds_signal_write(&spec, files_path("sweep.wav"), &error), LDS_OK);
    const size_t frames = (size_t)lds_signal_frames(&spec);
    double *x = calloc(frames, sizeof *x), before = 0.0, after = 0.0;
    struct lds_player *player = lds_player_new(&spec);
    assert_true(x && player);
    lds_player_render(player, -lds_signal_lead(&spec), frames, x);
    const double k = tan(M_PI * corner_hz / RATE_HZ);
    for (size_t i = 0; i < frames; i++) {
        const double now = x[i];
        after = (now - before + (1.0 - k) * after) / (1.0 + k);
        before = now;
        x[i] = 0.8 * after;
    }
    files_sound(name, SF_FORMAT_WAV | SF_FORMAT_FLOAT, RATE_HZ, 1, x, frames);
    lds_player_free(player);
    free(x);
}

/* DC, white noise of that rms in 20 Hz to 20 kHz, and a line at 100 Hz beside one at 50 Hz. */
static void make_idle(const char *name, unsigned seed, double dc_v, double noise_v, double ripple_v)
{
    const size_t frames = 8 * RATE_HZ;
    double *x = calloc(frames, sizeof *x);
    struct sim_random random;
    assert_non_null(x);
    sim_random_seed(&random, seed);
    const double sigma_v = noise_v * sqrt(RATE_HZ / 2.0 / 19980.0);
    for (size_t i = 0; i < frames; i++) {
        const double phase = 2.0 * M_PI * 50.0 * (double)i / RATE_HZ;
        x[i] = (dc_v + sigma_v * sim_random_gaussian(&random) + 1e-4 * sqrt(2.0) * sin(phase) +
                ripple_v * sqrt(2.0) * cos(2.0 * phase)) /
               FULL_SCALE_V;
    }
    files_sound(name, SF_FORMAT_WAV | SF_FORMAT_FLOAT, RATE_HZ, 1, x, frames);
    free(x);
}

static const char bench[] = "[bench]\nfull_scale = 100 mV\nload = 8 ohm\ndc_coupled = yes\n";
static const char captures[] =
    "[capture idle before]\nfile = ib.wav\nrole = idle\nside = before\n"
    "[capture idle after]\nfile = ia.wav\nrole = idle\nside = after\n"
    "[capture sweep before]\nfile = sb.wav\nrole = sweep\nside = before\nsignal = sweep.ini\n"
    "[capture sweep after]\nfile = sa.wav\nrole = sweep\nside = after\nsignal = sweep.ini\n";

/* 10 kohm and 1 uF, then 470 nF: 15.9 Hz and 33.9 Hz. 20 nA through 1 Mohm, then 3 Mohm: 20 mV and 60 mV. 10 kohm with
 * a gain of 40 dB in 19980 Hz: 181.4 uV. 2 A from 10 mF, 2 V p-p, 577 mV rms, less 60 dB: 577 uV at most. */
static const char parts[] =
    "[expect input coupling]\nkind = coupling\nr = 10 kohm\nc = 1 uF -> 470 nF\nr tolerance = 1 %\nc tolerance = 5 %\n"
    "[expect bias]\nkind = offset\ncurrent = 20 nA\nr = 1 Mohm -> 3 Mohm\nr tolerance = 1 %\n"
    "[expect input resistor]\nkind = resistor\nr = 10 kohm\ngain = 40 dB\n"
    "[expect reservoir]\nkind = supply-ripple\nc = 10 mF\ncurrent = 2 A\ngain = -60 dB\n";

static struct lds_sheet sheet;
static struct lds_job job;

static int setup(void **state)
{
    char text[4000];
    if (files_setup(state))
        return 1;
    make_sweep("sb.wav", 1.0 / (2.0 * M_PI * 10e3 * 1e-6));
    make_sweep("sa.wav", 25.0); /* another capacitor than the sheet says */
    make_idle("ib.wav", 1, -20e-3, 1.8138e-4, 5e-4);
    make_idle("ia.wav", 2, 20e-3, 2.2e-4, 7e-4);
    snprintf(text, sizeof text, "%s%s%s", bench, parts, captures);
    made_read(&sheet, text);
    made_run(&sheet, 1, &job);
    return 0;
}

static int teardown(void **state)
{
    lds_job_free(&job);
    lds_sheet_free(&sheet);
    return files_teardown(state);
}

static void near(double value, double wanted, double relative)
{
    if (!(fabs(value - wanted) <= relative * fabs(wanted)))
        fail_msg("%.9g instead of %.9g", value, wanted);
}

static const struct lds_job_expected *row(const char *name, enum lds_when when)
{
    for (size_t i = 0; i < job.expecteds; i++)
        if (strcmp(job.expected[i].of->name, name) == 0 && job.expected[i].when == when)
            return &job.expected[i];
    fail_msg("no row of %s", name);
    return NULL;
}

static void agreement(void **state)
{
    (void)state;
    static const struct {
        const char *name;
        enum lds_when when;
        double implied, measured;
        enum lds_expected_word word;
        double by, by_off;
    } rows[] = {
        {"input coupling", LDS_WHEN_BEFORE, 15.91549, 15.91549, LDS_EXPECTED_AGREES, 0.0, 0.0},
        /* the nearest limit: 33.86275/(1.01 * 1.05) = 31.931 Hz */
        {"input coupling", LDS_WHEN_AFTER, 33.86275, 25.0, LDS_EXPECTED_DIFFERS, 25.0 - 31.931, 0.5},
        {"bias", LDS_WHEN_BEFORE, 20e-3, -20e-3, LDS_EXPECTED_AGREES, 0.0, 0.0},
        {"bias", LDS_WHEN_AFTER, 60e-3, 20e-3, LDS_EXPECTED_DIFFERS, 20e-3 - 59.4e-3, 1e-4},
        {"input resistor", LDS_WHEN_BEFORE, 1.8138e-4, 1.8138e-4, LDS_EXPECTED_AGREES, 0.0, 0.0},
        {"input resistor", LDS_WHEN_AFTER, 1.8138e-4, 2.2e-4, LDS_EXPECTED_DIFFERS, 2.2e-4 - 1.8138e-4, 3e-6},
        {"reservoir", LDS_WHEN_BEFORE, 5.7735e-4, 5e-4, LDS_EXPECTED_WITHIN, 0.0, 0.0},
        {"reservoir", LDS_WHEN_AFTER, 5.7735e-4, 7e-4, LDS_EXPECTED_DIFFERS, 7e-4 - 5.7735e-4, 1e-5},
    };
    assert_int_equal(job.expecteds, sizeof rows / sizeof *rows);
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        const struct lds_job_expected *one = row(rows[i].name, rows[i].when);
        near(one->expected.value, rows[i].implied, 1e-3); /* of noise, the band that was covered */
        if (!one->measured)
            fail_msg("%s: %s", rows[i].name, one->why);
        near(one->measured->value, rows[i].measured, 0.02);
        if (one->word != rows[i].word)
            fail_msg("%s, %s: %d instead of %d", rows[i].name, lds_when_name(rows[i].when), one->word, rows[i].word);
        assert_true(fabs(one->by - rows[i].by) <= rows[i].by_off);
        assert_int_equal(one->channel, 1);
    }
    near(row("input coupling", LDS_WHEN_BEFORE)->expected.high, 15.91549 / (0.99 * 0.95), 1e-4);
    assert_string_equal(row("bias", LDS_WHEN_BEFORE)->capture->name, "idle before");
}

static void in_the_text(void **state)
{
    (void)state;
    size_t size;
    FILE *out = fopen(files_path("report.txt"), "w");
    assert_non_null(out);
    assert_int_equal(lds_job_text(&job, out, NULL), LDS_OK);
    fclose(out);
    char *text = made_bytes(files_path("report.txt"), &size);
    char *begin = strstr(text, "What the parts imply\n");
    assert_non_null(begin);
    *strstr(begin, "Power as stated") = '\0';
    static const char *const words[] = {"input coupling: r 10 kohm ±1 %; c 1 uF -> 470 nF ±5 %",
                                        "agrees",
                                        "within",
                                        "less by 39.4 mV",
                                        "more by 39.0 µV",
                                        "\n  before  "};
    for (size_t i = 0; i < sizeof words / sizeof *words; i++)
        if (!strstr(begin, words[i]))
            fail_msg("no '%s' in\n%s", words[i], begin);
    for (const char *line = begin; *line; line += strcspn(line, "\n") + (line[strcspn(line, "\n")] != '\0')) {
        int columns = 0;
        for (const char *c = line; *c && *c != '\n'; c++)
            columns += ((unsigned char)*c & 0xc0) != 0x80;
        if (columns > 80)
            fail_msg("%d columns: %.100s", columns, line);
    }
    free(text);
}

static void on_the_page(void **state)
{
    (void)state;
    size_t size;
    assert_int_equal(lds_job_html(&job, NULL, files_path("report.html"), NULL), LDS_OK);
    char *page = made_bytes(files_path("report.html"), &size);
    assert_non_null(strstr(page, "What the parts imply"));
    assert_non_null(strstr(page, "less by 39"));
    assert_non_null(strstr(page, "input coupling: r 10 kohm"));
    free(page);
}

static void in_json(void **state)
{
    (void)state;
    const char *path = files_path("expected.json");
    assert_int_equal(lds_expected_json(&job, path, NULL), LDS_OK);
    json_t *root = json_load_file(path, 0, NULL), *list = json_object_get(root, "parts");
    assert_string_equal(json_string_value(json_object_get(root, "format")), "loadside-expected");
    assert_int_equal(json_array_size(list), 8);
    json_t *one = json_array_get(list, 3);
    assert_string_equal(json_string_value(json_object_get(one, "name")), "bias");
    assert_string_equal(json_string_value(json_object_get(one, "side")), "after");
    assert_string_equal(json_string_value(json_object_get(one, "result")), "differs");
    near(json_real_value(json_object_get(json_object_get(one, "expected"), "value")), 0.06, 1e-9);
    near(json_real_value(json_object_get(json_object_get(one, "measured"), "value")), 0.02, 0.01);
    near(json_real_value(json_object_get(one, "by")), 0.02 - 0.0594, 0.01);
    assert_true(json_is_null(json_object_get(json_array_get(list, 0), "by")));
    json_decref(root);
}

/* No capture has the figure; the reason is given. */
static void not_measured(void **state)
{
    (void)state;
    struct lds_sheet other;
    struct lds_job made;
    char text[2000];
    snprintf(text, sizeof text, "%s%s%s", "[bench]\nload = 8 ohm\n", parts,
             "[capture idle]\nfile = ib.wav\nrole = idle\n");
    made_read(&other, text);
    made_run(&other, 1, &made);
    assert_int_equal(made.expecteds, 4);
    for (size_t i = 0; i < made.expecteds; i++) {
        const struct lds_job_expected *one = &made.expected[i];
        assert_true(one->when == LDS_WHEN_ANY && one->word == LDS_EXPECTED_UNMEASURED && !one->measured && one->why[0]);
    }
    near(made.expected[0].expected.value, 33.86275, 1e-5); /* what is fitted now */
    assert_non_null(strstr(made.expected[2].why, "not calibrated"));
    lds_job_free(&made);
    lds_sheet_free(&other);
}

static void faults(void **state)
{
    (void)state;
    static const struct {
        const char *text, *word, *other;
    } cases[] = {
        {"[expect a]\nr = 10 kohm\n", ":1: [expect a] states no kind", "coupling"},
        {"[expect a]\nkind = couplin\nr = 10k\n", ":2: kind is 'couplin'", "is 'coupling' meant"},
        {"[expect a]\nkind = coupling\nr = 10k\n", ":1: [expect a]: c not found", "2.2u"},
        {"[expect a]\nkind = coupling\nr = 10k\nc = 1 uF -> 1 uH\n", ":4: c is '1 uH'", "number in F"},
        {"[expect a]\nkind = coupling\nr = 10k ->\nc = 1 uF\n", ":3: r is ''", "number in ohm"},
        {"[expect a]\nkind = coupling\nr = 0\nc = 1 uF\n", ":3: r is 0 ohm", "47k"},
        {"[expect a]\nkind = coupling\nr = 10k, 1k\nc = 1 uF -> 1 uF, 2 uF\n", ":1: [expect a]: 2 of r and 1 of c",
         "each stage"},
        {"[expect a]\nkind = coupling\nr = 10k\nc = 1 uF\nr tolerance = 100 %\n", ":5: the tolerance of r is 100 %",
         "below 100"},
        {"[expect a]\nkind = coupling\nr = 10k\nc = 1 uF\ncurrent = 1 A\n", ":5: current found for coupling",
         "leave it"},
        {"[expect a]\nkind = coupling\nr = 10k\nc = 1 uF\nz = 1\n", ":5: unknown key in [expect]: 'z'", "docs"},
        {"[expect a]\nkind = capacitor-esr\nc = 1 mF\n", ":1: [expect a] is of kind capacitor-esr", "loadside expect"},
        {"[expect a]\nkind = offset\nr = 1M\ncurrent = 1 nA\nchannel = 0\n", ":5: channel is '0'", "from 1 to 64"},
        {"[expect]\nkind = offset\nr = 1M\ncurrent = 1 nA\n", ":1: parts without a name", "[expect input coupling]"},
        {"[expect a]\nkind = offset\nr = 1M\ncurrent = 1 nA\n[expect a]\nkind = offset\nr = 1M\ncurrent = 1 nA\n",
         ":5: [expect a] is in line 1 already", "name of its own"},
        {"[expct a]\n", ":1: unknown section 'expct'", "is 'expect' meant"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        char text[2000];
        struct lds_sheet other;
        struct lds_remarks wrong;
        struct lds_error error = {0};
        snprintf(text, sizeof text, "%s[capture x]\nfile = ib.wav\nrole = idle\n", cases[i].text);
        if (lds_sheet_read(files_text("bad.ini", text), &other, &wrong, &error) != LDS_BAD_INPUT || wrong.count != 1 ||
            !made_holds(&wrong, cases[i].word, cases[i].other))
            fail_msg("'%s' gave %zu faults: %s", cases[i].text, wrong.count, wrong.count ? wrong.line[0] : "");
        lds_remarks_free(&wrong);
        lds_sheet_free(&other);
    }
}

/* A section in which nothing is stated counts as none. */
static void empty_section(void **state)
{
    (void)state;
    struct lds_sheet other;
    made_read(&other, "[expect a]\nkind =\nr =\nc tolerance =\n[capture x]\nfile = ib.wav\nrole = idle\n");
    assert_int_equal(other.expects, 0);
    lds_sheet_free(&other);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(agreement),     cmocka_unit_test(in_the_text),  cmocka_unit_test(on_the_page),
        cmocka_unit_test(in_json),       cmocka_unit_test(not_measured), cmocka_unit_test(faults),
        cmocka_unit_test(empty_section),
    };
    return cmocka_run_group_tests_name("expected", tests, setup, teardown);
}
