/* Sidecars: what is written reads back the same to the last bit, faults are reported, and the documentation has every
 * key. */
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
#include "documented.h"
#include "loadside/loadside.h"
#include "signal/sidecar.h"

/* Every member differs from its default, and few have a short decimal form. */
static struct lds_signal_spec odd(enum lds_signal_kind kind)
{
    struct lds_signal_spec spec;
    lds_signal_spec_init(&spec, kind);
    spec.rate_hz = 96000;
    spec.bits = 16;
    spec.seconds = 20.0 / 3.0;
    spec.lead_s = 1.0 / 3.0;
    spec.tail_s = 0.0;
    spec.level_dbfs = -100.0 / 7.0;
    spec.channels = 2;
    spec.channel = 2;
    spec.seed = 2147483647;
    if (!isnan(spec.frequency_hz[0]))
        spec.frequency_hz[0] = 1000.0 / 3.0;
    if (!isnan(spec.frequency_hz[1]))
        spec.frequency_hz[1] = 30000.0 / 1.1;
    spec.ratio = kind == LDS_SIGNAL_TWO_TONE ? 4.0 / 3.0 : 1.0;
    spec.repeats = kind == LDS_SIGNAL_SWEEP ? 3 : 1;
    spec.pink = kind == LDS_SIGNAL_NOISE;
    if (kind == LDS_SIGNAL_STAIRCASE) {
        spec.to_dbfs = -1.0 / 3.0;
        spec.step_db = 0.7;
        spec.hold_s = 0.1;
        spec.and_back = true;
    } else if (kind == LDS_SIGNAL_BURST) {
        spec.on_s = 0.01 / 3.0;
        spec.off_s = 0.7 / 3.0;
    }
    return spec;
}

static void same_number(double a, double b)
{
    assert_true(a == b || (isnan(a) && isnan(b)));
}

static void same(const struct lds_signal_spec *a, const struct lds_signal_spec *b)
{
    assert_int_equal(a->kind, b->kind);
    assert_true(a->rate_hz == b->rate_hz && a->bits == b->bits && a->channels == b->channels);
    assert_true(a->channel == b->channel && a->repeats == b->repeats && a->and_back == b->and_back);
    assert_true(a->pink == b->pink && a->period == b->period && a->seed == b->seed);
    const double pair[][2] = {{a->seconds, b->seconds},
                              {a->lead_s, b->lead_s},
                              {a->tail_s, b->tail_s},
                              {a->frequency_hz[0], b->frequency_hz[0]},
                              {a->frequency_hz[1], b->frequency_hz[1]},
                              {a->ratio, b->ratio},
                              {a->to_dbfs, b->to_dbfs},
                              {a->step_db, b->step_db},
                              {a->hold_s, b->hold_s},
                              {a->on_s, b->on_s},
                              {a->off_s, b->off_s}};
    for (size_t i = 0; i < sizeof pair / sizeof *pair; i++)
        same_number(pair[i][0], pair[i][1]);
    if (a->kind != LDS_SIGNAL_SILENCE) {
        same_number(a->level_dbfs, b->level_dbfs);
        same_number(a->fade_in_s, b->fade_in_s);
        same_number(a->fade_out_s, b->fade_out_s);
    }
}

static bool is_made(int kind)
{
    return lds_signal_stated((enum lds_signal_kind)kind) == LDS_STATED_BY_FILE;
}

static void round_trip(void **state)
{
    (void)state;
    for (int kind = 0; kind < LDS_SIGNALS; kind++) {
        if (!is_made(kind))
            continue;
        struct lds_signal_spec spec = odd((enum lds_signal_kind)kind), read;
        struct lds_error error;
        if (lds_signal_spec_check(&spec, &error))
            fail_msg("%s: %s", lds_signal_name(spec.kind), error.message);
        const char *path = files_path("round.ini");
        FILE *out = fopen(path, "w");
        assert_non_null(out);
        lds_sidecar_write(out, &spec);
        fclose(out);
        if (lds_signal_spec_load(&read, path, &error))
            fail_msg("%s: %s", lds_signal_name(spec.kind), error.message);
        same(&spec, &read);
    }
}

static void what_is_wrong_is_said(void **state)
{
    (void)state;
    static const struct {
        const char *text, *words, *more;
    } cases[] = {
        {"[signal]\nkind = sinus\n", ":2: ", "sine"},
        {"[signal]\nkind = sine\nfrequncy = 997\n", ":3: ", "is 'frequency' meant"},
        {"[signal]\nkind = sine\nzzzzzzzz = 997\n", ":3: ", "docs/signal-file.md"},
        {"[signal]\nkind = sine\n[signal]\nkind = sine\n", ":4: ", "twice"},
        {"[signal]\nkind = sine\n", "states no frequency", "add it"},
        {"[signal]\nkind = sweep\nfrequency = 20\n", "frequency", "half the rate"},
        {"[signal]\nrate = 48000\n", "no kind", "kind = sweep"},
        {"[bench]\nkind = sine\n", ":2: ", "[signal]"},
        {"[signal]\nkind = sine\nfrequency = 30k\n", "30000 Hz", "24000 Hz"},
        {"[signal]\nkind = sine\nfrequency = 997\nrate = 4000\n", ":4: ", "8000"},
        {"[signal]\nkind = sine\nfrequency = 997\nbits = 20\n", "20 bits", "16, 24 or 32"},
        {"[signal]\nkind = sine\nfrequency = 997\nlevel_dbfs = 1\n", ":4: ", "0"},
        {"[signal]\nkind = sine\nfrequency = 997\nchannel = 2\n", "channel 2 of 1", "expected"},
        {"[signal]\nkind = sine\nfrequency = 997\nfade_in = 20\n", "fades", "expected"},
        {"[signal]\nkind = noise\nperiod = 1000\n", "1000 samples", "power of two"},
        {"[signal]\nkind = sweep\nfrequency = 2k, 20\n", "rises", "expected"},
        {"", "no kind", "expected"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        struct lds_signal_spec spec = {.seed = 77};
        struct lds_error error = {0};
        const enum lds_status status = lds_signal_spec_load(&spec, files_text("wrong.ini", cases[i].text), &error);
        if (status != LDS_BAD_USE || !strstr(error.message, cases[i].words) || !strstr(error.message, cases[i].more) ||
            !strstr(error.message, "wrong.ini") || strchr(error.message, '\n'))
            fail_msg("%zu: status %d, '%s'; '%s' and '%s' expected", i, (int)status, error.message, cases[i].words,
                     cases[i].more);
        assert_int_equal(spec.seed, 77); /* left as it was */
    }
    struct lds_signal_spec spec;
    assert_int_equal(lds_signal_spec_load(&spec, files_path("nowhere.ini"), NULL), LDS_IO);
}

static void the_documentation_agrees(void **state)
{
    (void)state;
    size_t count, row = 0;
    const struct lds_sidecar_key *keys = lds_sidecar_keys(&count);
    char line[1024], example[2048] = "";
    bool in_example = false;
    FILE *file = documented_open("signal-file.md");
    while (fgets(line, sizeof line, file)) {
        if (strncmp(line, "```", 3) == 0)
            in_example = strncmp(line, "```ini", 6) == 0;
        else if (in_example)
            strcat(example, line);
        if (strncmp(line, "| `", 3) != 0 || row == count)
            continue;
        documented_as(line, 0, keys[row].is.name);
        documented_as(line, 1, keys[row].is.unit);
        documented_as(line, 2, keys[row].is.fallback);
        documented_as(line, 5, keys[row].is.meaning);
        char of[256];
        documented_cell(line, 4, of, sizeof of);
        for (int kind = 0; kind < LDS_SIGNALS; kind++) {
            if (!is_made(kind))
                continue;
            const bool all = strncmp(of, "all", 3) == 0;
            const bool named = strstr(of, lds_signal_name((enum lds_signal_kind)kind)) != NULL;
            if (((keys[row].of >> kind) & 1) != (all ? !named : named))
                fail_msg("%s: '%s'", keys[row].is.name, of);
        }
        row++;
    }
    fclose(file);
    assert_int_equal(row, count);
    struct lds_signal_spec spec;
    struct lds_error error;
    if (lds_signal_spec_load(&spec, files_text("example.ini", example), &error))
        fail_msg("%s", error.message);
    struct lds_signal_spec made = spec; /* with the fades that loadside signal chooses */
    made.fade_in_s = made.fade_out_s = 0.0;
    assert_int_equal(lds_signal_spec_check(&made, NULL), LDS_OK);
    same(&spec, &made);
    assert_non_null(strstr(example, "version = " LOADSIDE_VERSION "\n"));
}

/* Only what is made has a sidecar: the message names those kinds, and the document does. */
static void kinds_that_are_made(void **state)
{
    (void)state;
    char text[80], made[200], row[300], line[1024];
    bool documented = false;
    lds_signal_kinds_made(made, sizeof made);
    for (int kind = LDS_SIGNAL_NONE + 1; kind < LDS_SIGNALS; kind++) {
        struct lds_signal_spec spec;
        struct lds_error error = {0};
        const char *name = lds_signal_name((enum lds_signal_kind)kind);
        snprintf(text, sizeof text, "[signal]\nkind = %s\n", name);
        (void)lds_signal_spec_load(&spec, files_text("kind.ini", text), &error);
        assert_true((strstr(error.message, "kind is '") == NULL) == is_made(kind));
        assert_true(is_made(kind) || strstr(error.message, made) || strstr(error.message, "is meant"));
        assert_true((strstr(made, name) != NULL) == is_made(kind));
        lds_signal_spec_init(&spec, (enum lds_signal_kind)kind);
        assert_int_equal(lds_signal_spec_check(&spec, &error) == LDS_OK || is_made(kind), is_made(kind));
        assert_true(is_made(kind) || strstr(error.message, made));
    }
    char *last = strstr(made, " or "); /* the document has a list of commas */
    assert_non_null(last);
    snprintf(row, sizeof row, "| `kind` |  | must be stated | %.*s, %s | all |", (int)(last - made), made, last + 4);
    FILE *file = documented_open("signal-file.md");
    while (fgets(line, sizeof line, file))
        documented = documented || strncmp(line, row, strlen(row)) == 0;
    fclose(file);
    assert_true(documented);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(round_trip),
        cmocka_unit_test(kinds_that_are_made),
        cmocka_unit_test(what_is_wrong_is_said),
        cmocka_unit_test(the_documentation_agrees),
    };
    return cmocka_run_group_tests_name("sidecar", tests, files_setup, files_teardown);
}
