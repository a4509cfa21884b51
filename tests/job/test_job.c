/* Checking and running jobs. */
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

static void check(const char *text, enum lds_status expected, struct lds_remarks *wrong, struct lds_remarks *missing,
                  struct lds_remarks *fits)
{
    struct lds_sheet sheet;
    struct lds_error error = {0};
    made_read(&sheet, text);
    struct lds_job_checked checked;
    assert_int_equal(lds_job_check(&sheet, &checked, &error), expected);
    *wrong = checked.wrong;
    *missing = checked.missing;
    *fits = checked.fits;
    lds_remarks_free(&checked.captures);
    lds_sheet_free(&sheet);
}

static void what_stops_a_job(void **state)
{
    (void)state;
    struct lds_remarks wrong, missing, fits;
    made_capture("short.wav", 5, 48000, 1, 0.1, 1e-3, 0.0);
    files_text("words.wav", "these are words\n");
    check(
        "[capture a]\nfile = nowhere.wav\nrole = idle\n[capture b]\nfile = short.wav\nrole = sine\n"
        "[capture c]\nfile = idle-before.wav\nrole = idle\nchannel = 3\n[capture d]\nfile = words.wav\nrole = chain\n",
        LDS_BAD_INPUT, &wrong, &missing, &fits);
    assert_int_equal(wrong.count, 3);
    assert_true(made_holds(&wrong, "sheet.ini:4: short.wav: holds 0.1 s", "0.2 s"));
    assert_true(made_holds(&wrong, "sheet.ini:7: idle-before.wav: channel 3", "the file holds 2"));
    assert_true(made_holds(&wrong, "sheet.ini:11: words.wav: ", ""));
    lds_remarks_free(&wrong);
    lds_remarks_free(&missing);
    lds_remarks_free(&fits);
}

static void what_a_full_report_wants(void **state)
{
    (void)state;
    struct lds_remarks wrong, missing, fits;
    check("[capture a]\nfile = idle-before.wav\nrole = idle\nside = before\n"
          "[capture b]\nfile = sine-before.wav\nrole = sine\n[limits]\nthd = at most 1 %\n",
          LDS_OK, &wrong, &missing, &fits);
    assert_int_equal(wrong.count, 0);
    static const char *const words[][2] = {{"not named", "[unit]"},
                                           {"No client", "[job]"},
                                           {"Limits are judged", "none has"},
                                           {"No date", "latest"},
                                           {"done to the unit", "work"},
                                           {"power, load, distortion", "held"},
                                           {"No load", "(b)"},
                                           {"No full scale", "(a, b)"},
                                           {"ten seconds", "(a, b)"},
                                           {"role = chain", "not be known"},
                                           {"idle: captures from before", "nothing can be compared"}};
    for (size_t i = 0; i < sizeof words / sizeof *words; i++)
        assert_true(made_holds(&missing, words[i][0], words[i][1]));
    lds_remarks_free(&missing);
    lds_remarks_free(&fits);
    check(made_sheet, LDS_OK, &wrong, &missing, &fits);
    assert_true(made_holds(&missing, "sine, 10 W: 1 before and 1 after", "assumed"));
    /* 10 W into 8 ohm: sqrt(160) = 12.6 V; (2 V x 10)^2 / 16 ohm = 25 W. */
    assert_true(made_holds(&fits, "sine before: 10 W into 8 Ω swings to 12.6 V peak", "it fits"));
    assert_true(made_holds(&fits, "takes 20 V at the load", "fits is 25 W"));
    assert_false(made_holds(&missing, "sine before: 10 W", "it fits"));
    lds_remarks_free(&missing);
    lds_remarks_free(&fits);
    files_text("wide.ini", "[bench]\nfull_scale = 22.5 V\nload = 8\n");
    check("[rating]\npower = 30 W\nload = 8\n[bench]\nfull_scale = 2\nattenuation = 10\nload = 8\n"
          "[capture a]\nfile = sine-before.wav\nrole = sine\npower = 10\n"
          "[capture b]\nfile = sine-after.wav\nrole = sine\npower = 10\nbench = wide.ini\n",
          LDS_OK, &wrong, &missing, &fits);
    assert_true(made_holds(&fits, "recorded as b is: 30 W", "with less than 1 dB to spare"));
    assert_true(made_holds(&fits, "30 W into 8 Ω swings to 21.9 V", "it does NOT fit"));
    assert_true(made_holds(&missing, "30 W into 8 Ω swings to 21.9 V", "it does NOT fit"));
    lds_remarks_free(&missing);
    lds_remarks_free(&fits);
}

/* A sensitive input used only for idle captures is never driven to the power of the unit. */
static void the_stated_power_is_held_against_benches_that_take_power(void **state)
{
    (void)state;
    struct lds_remarks wrong, missing, fits;
    files_text("sensitive.ini", "[bench]\nfull_scale = 0.1 V\nload = 8\n");
    check("[rating]\npower = 20 W\nload = 8\n[bench]\nfull_scale = 2\nattenuation = 10\nload = 8\n"
          "[capture a]\nfile = idle-before.wav\nrole = idle\nbench = sensitive.ini\n"
          "[capture b]\nfile = sine-before.wav\nrole = sine\npower = 10\n"
          "[capture c]\nfile = sine-after.wav\nrole = sine\nbench = sensitive.ini\n",
          LDS_OK, &wrong, &missing, &fits);
    assert_int_equal(fits.count, 4); /* what two inputs take; 20 W and 10 W, both of b */
    assert_true(made_holds(&fits, "recorded as b is: 20 W", "it fits"));
    for (size_t i = 0; i < missing.count; i++)
        assert_null(strstr(missing.line[i], "does NOT fit"));
    lds_remarks_free(&missing);
    lds_remarks_free(&fits);
}

/* Nothing is captured yet: the bench alone says what fits, and the job is refused. */
static void before_any_capture(void **state)
{
    (void)state;
    struct lds_sheet sheet;
    struct lds_job_checked checked;
    struct lds_job job;
    struct lds_job_options options;
    struct lds_error error = {0};
    made_read(&sheet, "[unit]\nsupply = 41 V, -38 V\n[bench]\nfull_scale = 1.5 V\nattenuation = 20\nload = 4\n"
                      "[capture a]\nfile =\nrole = idle\n"
                      "[capture b]\nfile = not-yet.wav\nrole = sine\npower = 25 W\nfrequency = 997 Hz\ndriven = 2\n"
                      "[capture c]\nfile = nor-this.wav\nrole = sine\n"
                      "[capture d]\nrole = sine\n"
                      "[capture e]\nfile = idle-after.wav\nrole = idle\nrepeat = 2\n"
                      "[capture f]\nfile =\nrole = chain\n");
    assert_int_equal(lds_job_check(&sheet, &checked, &error), LDS_OK);
    assert_int_equal(checked.to_make, 5);
    assert_int_equal(checked.captures.count, 6);
    /* 1.5 V x 20 = 30 V; 30^2/(2 x 4) = 112.5 W; sqrt(25 x 4) = 10 V; 14.14 V/30 V = 0.471; 41 V/1.5 V = 27.33 */
    assert_true(made_holds(&checked.fits, "full scale 1.5 V behind 20:1", "up to 30 V peak, a sine of 112 W into 4 Ω"));
    assert_true(made_holds(&checked.fits, "41 V on the load, 2.05 V on the input", "NOT fit; with attenuation = 27.4"));
    assert_true(made_holds(&checked.fits, "bridged", "the whole supply, 79 V"));
    assert_true(made_holds(&checked.captures, "a: to make (its file is not named yet)", "Play nothing"));
    assert_true(made_holds(
        &checked.captures, "b: to make (not-yet.wav). Play a sine of 997 Hz into channel 2 alone",
        "10 V rms, 14.1 V peak, at the load (25 W into 4 Ω) and 0.707 V at the input; the capture then peaks at "
        "0.471"));
    assert_true(made_holds(&checked.captures, "c: to make (nor-this.wav). Play a sine, such as 997 Hz,", "power ="));
    assert_true(made_holds(&checked.captures, "b: to make",
                           "loadside signal sine sine.wav --frequency 997 --channels 2 --channel 2"));
    assert_true(made_holds(&checked.captures, "e: made (idle-after.wav: ", "2 channels, 48 kHz"));
    assert_true(made_holds(&checked.captures, "f: to make", "the recorder alone"));
    lds_job_checked_free(&checked);
    lds_job_options_init(&options);
    assert_int_equal(lds_job_run(&sheet, &options, &job, &error), LDS_BAD_INPUT);
    assert_non_null(strstr(error.message, "[capture a] is still to be made (no file stated), and 4 more"));
    lds_job_free(&job);
    lds_sheet_free(&sheet);
}

/* The supply is compared with every input, and there may be only one rail. */
static void the_supply_and_the_inputs(void **state)
{
    (void)state;
    static const struct {
        const char *supply, *fits, *bridged;
    } row[] = {{"20 V", "20 V on the load, 2 V on the input, whose full scale is 2 V: it fits", "20 V, can"},
               {"20.1 V", "with attenuation = 10.1 it would", "20.1 V, can"},
               {"-50", "50 V on the load, 5 V on the input, whose full scale is 2 V: it does NOT", "50 V, can"},
               {"15 V,-15 V", "15 V on the load, 1.5 V on the input, whose full scale is 2 V: it fits", "30 V, can"}};
    for (size_t i = 0; i < sizeof row / sizeof *row; i++) {
        char text[400];
        struct lds_remarks wrong, missing, fits;
        snprintf(text, sizeof text,
                 "[unit]\nsupply = %s\n[bench]\nfull_scale = 2 V\nattenuation = 10\n[capture a]\nrole = idle\n",
                 row[i].supply);
        check(text, LDS_OK, &wrong, &missing, &fits);
        assert_int_equal(fits.count, 3);
        assert_true(made_holds(&fits, "up to 20 V peak.", "full scale 2 V"));
        assert_true(made_holds(&fits, row[i].fits, "at worst"));
        assert_true(made_holds(&fits, row[i].bridged, "bridged"));
        lds_remarks_free(&missing);
        lds_remarks_free(&fits);
    }
}

static char *json_of(const struct lds_job *job)
{
    struct lds_error error = {0};
    size_t size, more;
    const char *path = files_path("figures.json");
    assert_int_equal(lds_report_json(job->measurement, job->sheet->captures, path, &error), LDS_OK);
    char *figures = made_bytes(path, &size);
    for (size_t i = 0; i < job->groups; i++) {
        if (!job->group[i].compared)
            continue;
        assert_int_equal(lds_comparison_json(&job->group[i].comparison, path, &error), LDS_OK);
        char *changes = made_bytes(path, &more);
        figures = realloc(figures, size + more + 1);
        assert_non_null(figures);
        memcpy(figures + size, changes, more + 1);
        size += more;
        free(changes);
    }
    return figures;
}

static void same_for_any_number_of_threads(void **state)
{
    (void)state;
    struct lds_sheet sheet;
    char *first = NULL;
    made_read(&sheet, made_sheet);
    static const int threads[] = {1, 2, 7};
    for (size_t i = 0; i < 3; i++) {
        struct lds_job job;
        made_run(&sheet, threads[i], &job);
        assert_int_equal(job.groups, 2);
        assert_string_equal(job.group[0].title, "idle");
        assert_string_equal(job.group[1].slug, "sine-10w");
        assert_true(job.group[0].compared && job.group[1].compared && !job.worse);
        assert_string_equal(job.measurement[0].file, "idle-before.wav");
        assert_string_equal(job.date, "2026-05-17");
        char *json = json_of(&job);
        if (first)
            assert_string_equal(first, json);
        else
            first = strdup(json);
        free(json);
        lds_job_free(&job);
    }
    free(first);
    lds_sheet_free(&sheet);
}

static const struct lds_figure *figure_of(const struct lds_job *job, size_t capture, const char *key)
{
    const struct lds_figure *figure = lds_channel_figure(&job->measurement[capture].channel[0], key);
    assert_non_null(figure);
    return figure;
}

/* The noise fell by 14 dB to the level of the recorder's own noise, so the chain hides how far it fell. */
static void the_chain_is_applied(void **state)
{
    (void)state;
    struct lds_sheet sheet;
    struct lds_job job;
    char text[2000];
    made_capture("chain.wav", 9, 48000, 2, 2.0, 1.8e-5, 0.0);
    made_capture("chain96.wav", 9, 96000, 2, 2.0, 1.8e-5, 0.0);
    snprintf(text, sizeof text,
             "%s[capture c]\nfile = chain.wav\nrole = chain\n[capture d]\nfile = chain96.wav\nrole = chain\n",
             made_sheet);
    made_read(&sheet, text);
    made_run(&sheet, 2, &job);
    assert_true(figure_of(&job, 1, "noise.band.20-20k")->flags & LDS_FLAG_CHAIN_LIMITED);
    assert_false(figure_of(&job, 0, "noise.band.20-20k")->flags &
                 (LDS_FLAG_CHAIN_LIMITED | LDS_FLAG_CHAIN_NOT_MEASURED));
    assert_true(made_holds(&job.missing, "at a rate that no capture has", "(d)"));
    assert_int_equal(job.files, 7);
    lds_job_free(&job);
    lds_sheet_free(&sheet);
    /* A recording of the chain for one side alone. */
    snprintf(text, sizeof text, "%s[capture c]\nfile = chain.wav\nrole = chain\nside = before\n", made_sheet);
    made_read(&sheet, text);
    made_run(&sheet, 2, &job);
    assert_true(figure_of(&job, 1, "noise.band.20-20k")->flags & LDS_FLAG_CHAIN_NOT_MEASURED);
    lds_job_free(&job);
    lds_sheet_free(&sheet);
    /* No recording fits: this is reported, and none is applied. */
    snprintf(text, sizeof text, "%s[capture d]\nfile = chain96.wav\nrole = chain\n", made_sheet);
    made_read(&sheet, text);
    made_run(&sheet, 2, &job);
    assert_true(made_holds(&job.missing, "idle after: no recording of the chain", "sampled at"));
    lds_job_free(&job);
    lds_sheet_free(&sheet);
}

/* A load that only one channel states, as when the output is recorded through a divider and the amplifier's input
 * directly. */
static void the_load_of_a_channel(void **state)
{
    (void)state;
    struct lds_remarks wrong, missing, fits;
    check("[bench]\nfull_scale = 2 V\nattenuation = 10\n[channel 2]\nload = 4 ohm\nattenuation = 20\n"
          "[capture a]\nfile = not-yet.wav\nrole = sine\npower = 10 W\n",
          LDS_OK, &wrong, &missing, &fits);
    assert_true(made_holds(&fits, "10 W into 4", "takes 40 V at the load: it fits"));
    assert_false(made_holds(&missing, "No load is stated", ""));
    lds_remarks_free(&wrong);
    lds_remarks_free(&missing);
    lds_remarks_free(&fits);
}

static void save_chain(const char *capture, const char *text, const char *saved)
{
    struct lds_capture *opened;
    struct lds_measure_options options;
    struct lds_measurement measured;
    struct lds_error error = {0};
    lds_measure_options_init(&options);
    assert_int_equal(lds_bench_load(&options.bench, files_text("chain-bench.ini", text), &error), LDS_OK);
    assert_int_equal(lds_capture_open(files_path(capture), NULL, &opened, &error), LDS_OK);
    assert_int_equal(lds_measure(opened, &options, &measured, &error), LDS_OK);
    assert_int_equal(lds_report_json(&measured, 1, files_path(saved), &error), LDS_OK);
    lds_capture_close(opened);
    lds_measurement_free(&measured);
    lds_bench_free(&options.bench);
}

/* As above, by a saved measurement that the bench names; recordings of the chain on the sheet take its place. */
static void the_chain_of_a_bench_is_applied(void **state)
{
    (void)state;
    struct lds_sheet sheet;
    struct lds_job job;
    struct lds_remarks wrong, missing, fits;
    char text[2000];
    const char *captures = strstr(made_sheet, "[capture");
    made_capture("chain.wav", 9, 48000, 2, 2.0, 1.8e-5, 0.0);
    save_chain("chain.wav", "[bench]\nfull_scale = 2 V\nattenuation = 10\nload = 8 ohm\n", "chain.json");
    const int head = (int)(captures - made_sheet);
    snprintf(text, sizeof text, "%.*schain = chain.json\n%s", head, made_sheet, captures);
    made_read(&sheet, text);
    made_run(&sheet, 2, &job);
    assert_true(figure_of(&job, 1, "noise.band.20-20k")->flags & LDS_FLAG_CHAIN_LIMITED);
    assert_false(figure_of(&job, 0, "noise.band.20-20k")->flags &
                 (LDS_FLAG_CHAIN_LIMITED | LDS_FLAG_CHAIN_NOT_MEASURED));
    assert_false(made_holds(&job.missing, "No recording of the capture chain", ""));
    assert_int_equal(job.files, 6);
    assert_string_equal(job.file[5].file, "chain.json");
    lds_job_free(&job);
    lds_sheet_free(&sheet);
    made_capture("quiet.wav", 9, 48000, 2, 2.0, 1e-7, 0.0);
    snprintf(text, sizeof text, "%.*schain = chain.json\n%s[capture c]\nfile = quiet.wav\nrole = chain\n", head,
             made_sheet, captures);
    made_read(&sheet, text);
    made_run(&sheet, 2, &job);
    assert_false(figure_of(&job, 1, "noise.band.20-20k")->flags &
                 (LDS_FLAG_CHAIN_LIMITED | LDS_FLAG_CHAIN_NOT_MEASURED));
    lds_job_free(&job);
    lds_sheet_free(&sheet);
    snprintf(text, sizeof text, "%.*schain = away.json\n%s", head, made_sheet, captures);
    check(text, LDS_BAD_INPUT, &wrong, &missing, &fits);
    assert_int_equal(wrong.count, 1);
    assert_true(made_holds(&wrong, "chain of the bench", "away.json"));
    lds_remarks_free(&wrong);
    lds_remarks_free(&missing);
    lds_remarks_free(&fits);
}

/* A capture at twice the rate is measured up to where the others reach, and so is the chain. */
static void measured_up_to_a_common_end(void **state)
{
    (void)state;
    struct lds_sheet sheet;
    struct lds_job job;
    made_capture("wide.wav", 11, 96000, 2, 2.0, 3e-5, 0.0);
    made_capture("chain96.wav", 9, 96000, 2, 2.0, 1e-6, 0.0);
    made_read(&sheet, "[capture a]\nfile = idle-before.wav\nrole = idle\nside = before\n"
                      "[capture b]\nfile = wide.wav\nrole = idle\nside = after\n"
                      "[capture c]\nfile = chain96.wav\nrole = chain\n");
    made_run(&sheet, 2, &job);
    assert_true(fabs(job.measurement[1].bench.usable_to_hz - 0.45 * 48000.0) < 1e-6);
    assert_true(isinf(job.measurement[2].bench.usable_to_hz)); /* its own figures reach as far as they can */
    assert_true(job.group[0].comparison.notes > 0);
    bool said = false;
    for (size_t i = 0; i < job.group[0].comparison.notes; i++)
        said = said || strstr(job.group[0].comparison.note[i], "up to 21600 Hz alone");
    assert_true(said);
    assert_false(figure_of(&job, 1, "noise.band.20-20k")->flags & LDS_FLAG_CHAIN_NOT_MEASURED);
    lds_job_free(&job);
    lds_sheet_free(&sheet);
}

static void groups(void **state)
{
    (void)state;
    struct lds_sheet sheet;
    struct lds_job job;
    made_capture("x1.wav", 21, 48000, 1, 0.5, 1e-4, 0.0);
    made_capture("x2.wav", 22, 48000, 1, 0.5, 1e-4, 0.0);
    made_capture("x3.wav", 23, 48000, 1, 0.5, 1e-4, 0.0);
    made_capture("x4.wav", 24, 48000, 1, 0.5, 1e-4, 0.0);
    files_text("one.bench", "[bench]\nload = 8\n");
    files_text("two.bench", "[bench]\nload = 8\n");
    /* One bench on both sides: a group of its own besides the sheet's. */
    made_read(&sheet, "[capture a]\nfile = x1.wav\nrole = idle\nside = before\n"
                      "[capture b]\nfile = x2.wav\nrole = idle\nside = before\nbench = one.bench\n"
                      "[capture c]\nfile = x3.wav\nrole = idle\nside = after\n"
                      "[capture d]\nfile = x4.wav\nrole = idle\nside = after\nbench = one.bench\n");
    made_run(&sheet, 1, &job);
    assert_int_equal(job.groups, 2);
    assert_string_equal(job.group[0].title, "idle, bench of the sheet");
    assert_string_equal(job.group[1].slug, "idle-one-bench");
    assert_true(job.group[0].compared && job.group[1].compared);
    assert_ptr_equal(job.group[1].after_capture[0], &job.measurement[3]);
    lds_job_free(&job);
    lds_sheet_free(&sheet);
    /* Another bench after than before: still compared. A repeat, and one without a side. */
    made_read(&sheet, "[capture a]\nfile = x1.wav\nrole = idle\nside = before\nbench = one.bench\n"
                      "[capture b]\nfile = x2.wav\nrole = idle\nside = before\nbench = one.bench\nrepeat = 2\n"
                      "[capture c]\nfile = x3.wav\nrole = idle\nside = after\nbench = two.bench\n"
                      "[capture d]\nfile = x4.wav\nrole = idle\n");
    made_run(&sheet, 1, &job);
    assert_int_equal(job.groups, 1);
    assert_true(job.group[0].before == 2 && job.group[0].after == 1 && job.group[0].other == 1);
    assert_string_equal(job.group[0].title, "idle");
    lds_job_free(&job);
    lds_sheet_free(&sheet);
}

/* Nobody asks for the THD of an idle output; but a limit that no group can judge is still reported. */
static void limits_stand_where_they_are_judged(void **state)
{
    (void)state;
    struct lds_sheet sheet;
    struct lds_job job;
    char text[2000];
    snprintf(text, sizeof text, "%s[limits]\nthd = at most 1 %%\nnoise.density.100k = at most 1 uV/√Hz\n", made_sheet);
    made_read(&sheet, text);
    made_run(&sheet, 1, &job);
    for (size_t g = 0; g < job.groups; g++)
        for (size_t c = 0; c < job.group[g].comparison.channels; c++) {
            const struct lds_compared_channel *channel = &job.group[g].comparison.channel[c];
            bool sine = strcmp(job.group[g].title, "idle") != 0;
            assert_int_equal(channel->limits, sine ? 2 : 1);
            assert_string_equal(channel->limit[0].key, sine ? "thd" : "noise.density.100k");
            assert_true(sine == (channel->limit[0].reason == NULL));
            assert_non_null(channel->limit[channel->limits - 1].reason);
        }
    for (size_t g = 0; g < job.groups; g++) {
        size_t count[LDS_LIMIT_RESULTS];
        lds_comparison_limits(&job.group[g].comparison, count);
        assert_int_equal(count[LDS_NOT_SHOWN], job.group[g].comparison.channels);
    }
    lds_job_free(&job);
    lds_sheet_free(&sheet);
}

/* The SHA-256 of "abc" is the example of FIPS 180-4. */
static void files_are_told_apart(void **state)
{
    (void)state;
    struct lds_sheet sheet;
    struct lds_job job;
    made_capture("x1.wav", 21, 48000, 1, 0.5, 1e-4, 0.0);
    files_text("abc", "abc");
    made_read(&sheet, "[capture a]\nfile = x1.wav\nrole = idle\n");
    free(sheet.bench_file);
    sheet.bench_file = strdup("abc"); /* no bench file, but the list does not read it again */
    made_run(&sheet, 1, &job);
    assert_int_equal(job.files, 3);
    assert_string_equal(job.file[0].file, "sheet.ini");
    assert_string_equal(job.file[2].sha256, "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
    assert_int_equal(job.file[2].bytes, 3);
    assert_int_equal(strlen(job.date), 10); /* that of the file */
    lds_job_free(&job);
    lds_sheet_free(&sheet);
}

/* A capture that opens, but has a sample that is not a number. */
static void broken_capture(const char *name, size_t frames, size_t place)
{
    double *samples = calloc(frames, sizeof *samples);
    assert_non_null(samples);
    samples[place] = NAN;
    files_sound(name, SF_FORMAT_WAV | SF_FORMAT_DOUBLE, 48000, 1, samples, frames);
    free(samples);
}

/* The first that fails, in the sheet's order, is reported, however many threads there are; the second fails sooner. */
static void a_capture_that_fails(void **state)
{
    (void)state;
    struct lds_sheet sheet;
    struct lds_job job;
    struct lds_job_options options;
    struct lds_error error = {0};
    broken_capture("late.wav", 400000, 399990);
    broken_capture("soon.wav", 200000, 0); /* the look is at the middle */
    made_read(&sheet,
              "[capture a]\nfile = late.wav\nrole = idle\n[capture b]\nfile = soon.wav\nrole = idle\nside = after\n"
              "[capture c]\nfile = idle-before.wav\nrole = idle\nside = before\n");
    lds_job_options_init(&options);
    for (options.threads = 1; options.threads < 5; options.threads++) {
        assert_int_equal(lds_job_run(&sheet, &options, &job, &error), LDS_BAD_INPUT);
        if (!strstr(error.message, "sheet.ini:1: late.wav: ") || !strstr(error.message, "not a number"))
            fail_msg("%d threads: %s", options.threads, error.message);
        lds_job_free(&job);
    }
    lds_sheet_free(&sheet);
}

struct seen {
    int calls;
    bool done[4];
};

static void count(void *context, size_t capture, const char *doing, double fraction)
{
    struct seen *seen = context;
    assert_true(capture < 4 && fraction >= 0.0 && fraction <= 1.0);
    assert_false(seen->done[capture]); /* reported once when it is done */
    assert_string_equal(doing, "measuring");
    seen->done[capture] = fraction == 1.0;
    seen->calls++;
}

static void progress_is_told(void **state)
{
    (void)state;
    struct lds_sheet sheet;
    struct lds_job job;
    struct lds_job_options options;
    struct lds_error error = {0};
    struct seen seen = {0};
    made_read(&sheet, made_sheet);
    lds_job_options_init(&options);
    options.threads = 1;
    options.progress = count;
    options.progress_context = &seen;
    assert_int_equal(lds_job_run(&sheet, &options, &job, &error), LDS_OK);
    assert_true(seen.calls > 0);
    lds_job_free(&job);
    lds_sheet_free(&sheet);
}

static int setup(void **state)
{
    int failed = files_setup(state);
    if (!failed)
        made_captures();
    return failed;
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(what_stops_a_job),
        cmocka_unit_test(what_a_full_report_wants),
        cmocka_unit_test(before_any_capture),
        cmocka_unit_test(the_supply_and_the_inputs),
        cmocka_unit_test(the_stated_power_is_held_against_benches_that_take_power),
        cmocka_unit_test(same_for_any_number_of_threads),
        cmocka_unit_test(the_chain_is_applied),
        cmocka_unit_test(the_chain_of_a_bench_is_applied),
        cmocka_unit_test(the_load_of_a_channel),
        cmocka_unit_test(measured_up_to_a_common_end),
        cmocka_unit_test(groups),
        cmocka_unit_test(limits_stand_where_they_are_judged),
        cmocka_unit_test(files_are_told_apart),
        cmocka_unit_test(a_capture_that_fails),
        cmocka_unit_test(progress_is_told),
    };
    return cmocka_run_group_tests_name("job", tests, setup, files_teardown);
}
