/* Each member of a saved result is removed or falsified in turn: either the loader reads what the file says, and the
 * result can be compared and printed without trouble, or it says in one line what is wrong. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>
#include <jansson.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "loadside/compare.h"
#include "loadside/measure.h"
#include "loadside/report.h"
#include "loadside/saved.h"
#include "report/sample.h"

/* Replacements of a member; NULL removes it. */
static const char *const falsehoods[] = {NULL,
                                         "null",
                                         "\"NaN\"",
                                         "-1",
                                         "0",
                                         "3.5",
                                         "1e308",
                                         "1e-300",
                                         "[]",
                                         "{}",
                                         "[1, 2]",
                                         "[null]",
                                         "true",
                                         "\"\\u0000\"",
                                         "\"\\u0085\\u001b[31m\"",
                                         "9007199254740993"};
enum { FALSEHOODS = sizeof falsehoods / sizeof *falsehoods };

struct trial {
    const char *path, *again; /* of the damaged file, and of what was read from it */
    const struct lds_measurement *other;
    json_t *root;
    const char *damaged; /* the member */
    size_t number, accepted;
};

/* Whether everything in one JSON text is also in the other, except what is computed again and what only a later version
 * knows. */
static bool says(const json_t *one, const json_t *other, const char *name)
{
    if (strcmp(name, "percent") == 0 || strcmp(name, "flags") == 0 || strcmp(name, "program") == 0)
        return true;
    if (json_is_number(one) && json_is_number(other))
        return fabs(json_number_value(one) - json_number_value(other)) <=
               1e-12 * fmax(fabs(json_number_value(one)), strstr(name, "_dbfs") ? 1.0 : 0.0); /* through volts */
    if (strcmp(name, "signal") == 0 && json_is_null(other))
        return true;
    if (json_typeof(one) != json_typeof(other) || json_array_size(one) != json_array_size(other))
        return false;
    if (json_is_string(one))
        return strcmp(json_string_value(one), json_string_value(other)) == 0;
    for (size_t i = 0; i < json_array_size(one); i++)
        if (!says(json_array_get(one, i), json_array_get(other, i), name))
            return false;
    const char *key;
    json_t *value;
    json_object_foreach((json_t *)(uintptr_t)one, key, value)
    {
        const json_t *there = json_object_get(other, key);
        bool nothing = json_is_null(value) || (json_is_object(value) && json_object_size(value) == 0);
        if (!there ? !nothing : !says(value, there, key))
            return false;
    }
    return true;
}

static void check_line(const struct trial *trial, const char *what, const struct lds_error *error)
{
    if (!error->message[0] || strchr(error->message, '\n'))
        fail_msg("%s (trial %zu): %s gives \"%s\" for a line", trial->damaged, trial->number, what, error->message);
}

/* Only finite numbers can be written; here everything must also be written at all. */
static void compare_and_print(const struct trial *trial, const struct lds_measurement *read, size_t count)
{
    struct lds_compare_options options;
    struct lds_comparison comparison = {0};
    struct lds_error error = {0};
    lds_compare_options_init(&options);
    if (lds_compare((struct lds_side){read, count}, (struct lds_side){trial->other, 1}, &options, &comparison,
                    &error) != LDS_OK)
        check_line(trial, "compare", &error);
    else if (lds_comparison_json(&comparison, "/dev/null", &error) != LDS_OK)
        fail_msg("%s (trial %zu): %s", trial->damaged, trial->number, error.message);
    lds_comparison_free(&comparison);
    FILE *null = fopen("/dev/null", "w");
    assert_non_null(null);
    if (lds_report_text(read, count, null, &error) != LDS_OK)
        fail_msg("%s (trial %zu): %s", trial->damaged, trial->number, error.message);
    fclose(null);
}

static void run(struct trial *trial)
{
    struct lds_measurement *read;
    struct lds_error error = {0};
    size_t count;
    json_error_t fault;
    trial->number++;
    assert_int_equal(json_dump_file(trial->root, trial->path, JSON_COMPACT), 0);
    if (lds_saved_read(trial->path, &read, &count, &error) != LDS_OK) {
        check_line(trial, "reading", &error);
        return;
    }
    trial->accepted++;
    if (lds_report_json(read, count, trial->again, &error) != LDS_OK)
        fail_msg("%s (trial %zu): %s", trial->damaged, trial->number, error.message);
    json_t *again = json_load_file(trial->again, 0, &fault);
    if (!again || !says(trial->root, again, ""))
        fail_msg("%s (trial %zu): read as something else than it says", trial->damaged, trial->number);
    json_decref(again);
    compare_and_print(trial, read, count);
    for (size_t i = 0; i < count; i++)
        lds_measurement_free(&read[i]);
    free(read);
}

static void damage_all(struct trial *trial, json_t *at);

static json_t *falsehood(size_t i)
{
    json_t *value = json_loads(falsehoods[i], JSON_DECODE_ANY | JSON_ALLOW_NUL, NULL);
    assert_non_null(value);
    return value;
}

static void damage_member(struct trial *trial, json_t *object, const char *name)
{
    json_t *was = json_deep_copy(json_object_get(object, name));
    assert_non_null(was);
    for (size_t i = 0; i < FALSEHOODS; i++) {
        trial->damaged = name;
        if (falsehoods[i])
            assert_int_equal(json_object_set_new(object, name, falsehood(i)), 0);
        else
            assert_int_equal(json_object_del(object, name), 0);
        run(trial);
    }
    assert_int_equal(json_object_set_new(object, name, was), 0);
    damage_all(trial, json_object_get(object, name));
}

static void damage_object(struct trial *trial, json_t *object)
{
    json_t *names = json_array(); /* a member that is put back comes last, and would be visited again */
    const char *key;
    json_t *value;
    size_t i;
    json_object_foreach(object, key, value) assert_int_equal(json_array_append_new(names, json_string(key)), 0);
    json_array_foreach(names, i, value) damage_member(trial, object, json_string_value(value));
    json_decref(names);
}

/* Damages the first and the last element, which stand for all, and the contents of the first, which stand for those of
 * the others. */
static void damage_array(struct trial *trial, json_t *array)
{
    size_t size = json_array_size(array);
    for (size_t k = 0; k<size; k += size> 1 ? size - 1 : 1) {
        json_t *was = json_deep_copy(json_array_get(array, k));
        for (size_t i = 0; i < FALSEHOODS; i++) {
            trial->damaged = "an element";
            if (falsehoods[i])
                assert_int_equal(json_array_set_new(array, k, falsehood(i)), 0);
            else
                assert_int_equal(json_array_remove(array, k), 0);
            run(trial);
            if (!falsehoods[i])
                assert_int_equal(json_array_insert_new(array, k, json_null()), 0);
        }
        assert_int_equal(json_array_set_new(array, k, was), 0);
        if (k == 0)
            damage_all(trial, json_array_get(array, k));
    }
}

static void damage_all(struct trial *trial, json_t *at)
{
    if (json_is_object(at))
        damage_object(trial, at);
    else if (json_is_array(at))
        damage_array(trial, at);
}

/* Small enough to be read thousands of times: figures of each sort, few of everything else, little in channel 2. */
static struct lds_measurement small_sample(bool calibrated)
{
    static const char *const kept[] = {"capture.clipped", "noise.band.20-20k", "thd", "mains.even", "tone.level"};
    struct lds_measurement sample = sample_measurement("a.wav", calibrated);
    for (size_t i = 0; i < sample.channels; i++) {
        struct lds_channel *channel = &sample.channel[i];
        static const char *const curve[] = {"spectrum", "density", "residual", "mains_waveform"};
        for (size_t k = 0; k < sizeof curve / sizeof *curve; k++)
            sample_cut(channel, curve[k], 3);
        sample_cut(channel, "harmonics", i == 0 ? 3 : 1);
        sample_cut(channel, "mains", i == 0 ? 3 : 1);
        sample_cut(channel, "floor", 4);
        size_t left = 0;
        for (size_t k = 0; k < channel->figures; k++) {
            bool keep = false;
            for (size_t m = 0; m < sizeof kept / sizeof *kept; m++)
                keep = keep || (strcmp(channel->figure[k].key, kept[m]) == 0 && (i == 0 || m == 4));
            if (keep)
                channel->figure[left++] = channel->figure[k];
            else
                free(channel->figure[k].key);
        }
        channel->figures = left;
    }
    sample.signal = (struct lds_signal){LDS_SIGNAL_TWO_TONE, true, 0.1, -3.5, 0, {19e3, 20e3}, "two tones"};
    return sample;
}

static void check_damaged(bool calibrated)
{
    char *folder = new_folder(), *path = NULL, *again = NULL;
    assert_true(asprintf(&path, "%s/a.json", folder) > 0 && asprintf(&again, "%s/b.json", folder) > 0);
    struct lds_measurement sample = small_sample(calibrated);
    json_error_t fault;
    assert_int_equal(lds_report_json(&sample, 1, path, NULL), LDS_OK);
    struct trial trial = {.path = path, .again = again, .other = &sample, .root = json_load_file(path, 0, &fault)};
    assert_non_null(trial.root);
    trial.damaged = "nothing";
    run(&trial);
    assert_int_equal(trial.accepted, 1);
    damage_all(&trial, trial.root);
    print_message("%zu damaged results, %zu of them accepted\n", trial.number - 1, trial.accepted - 1);
    json_decref(trial.root);
    lds_measurement_free(&sample);
    unlink(path);
    unlink(again);
    rmdir(folder);
    free(path);
    free(again);
    free(folder);
}

static void test_damaged(void **state)
{
    (void)state;
    check_damaged(true);
}

static void test_damaged_uncalibrated(void **state)
{
    (void)state;
    check_damaged(false);
}

/* Measured results satisfy the loader's rules themselves, even where noise alone leaves little to report. */
static void test_measured(void **state)
{
    (void)state;
    char *folder = new_folder(), *path = NULL;
    enum { FRAMES = 2000 };
    double *samples = calloc(2 * FRAMES, sizeof *samples);
    assert_true(samples && asprintf(&path, "%s/a.json", folder) > 0);
    for (uint32_t seed = 1; seed <= 12; seed++) {
        struct lds_measure_options options;
        struct lds_capture *capture;
        struct lds_measurement measured, *read;
        struct lds_error error = {0};
        size_t count;
        uint64_t state64 = seed;
        for (int i = 0; i < 2 * FRAMES; i++) { /* Knuth's MMIX constants */
            state64 = state64 * UINT64_C(6364136223846793005) + UINT64_C(1442695040888963407);
            samples[i] = 1e-4 * ((double)(state64 >> 33) * 0x1p-30 - 1.0);
        }
        lds_measure_options_init(&options);
        assert_int_equal(lds_capture_from_memory(samples, FRAMES, 2, 8000.0, &capture, &error), LDS_OK);
        assert_int_equal(lds_measure(capture, &options, &measured, &error), LDS_OK);
        assert_int_equal(lds_report_json(&measured, 1, path, &error), LDS_OK);
        if (lds_saved_read(path, &read, &count, &error) != LDS_OK)
            fail_msg("seed %u: %s", (unsigned)seed, error.message);
        lds_measurement_free(&measured);
        lds_measurement_free(read);
        free(read);
        lds_bench_free(&options.bench);
        lds_capture_close(capture);
    }
    unlink(path);
    rmdir(folder);
    free(samples);
    free(path);
    free(folder);
}

int main(void)
{
    if (access("/dev/shm", W_OK) == 0) /* a disk that syncs every file takes ten times as long */
        (void)setenv("TMPDIR", "/dev/shm", 1);
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_damaged), cmocka_unit_test(test_damaged_uncalibrated),
                                       cmocka_unit_test(test_measured)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
