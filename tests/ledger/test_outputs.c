/* Outputs of a ledger: 80 columns, JSON and CSV that read back, pictures that no name can break out of. */
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

#include "ledger/jobs.h"
#include "loadside/report.h"
#include "safe_text.h"

static const char *const names[] = {
    "0042",
    "'; system \"touch nasty\"; print '",
    "`touch nasty` $(touch nasty)",
    "=1+2,\"x\"\r\n\x1b[31m",
    "\xe2\x80\xae turned",
    "a name that is a good deal longer than any column of any table could ever be, 広間"};
enum { NAMES = sizeof names / sizeof names[0] };

struct filled {
    char *folder, *path;
    struct lds_ledger *ledger;
    struct lds_ledger_unit *unit;
    size_t units;
};

/* Every unit has three jobs, the last with three captures of a side and a figure below the floor. */
static int set_up(void **state)
{
    struct filled *filled = calloc(1, sizeof *filled);
    filled->folder = ledger_folder();
    filled->path = path_in(filled->folder, "a.ledger");
    for (int i = 0; i < 3 * NAMES; i++) {
        struct made_job made;
        bool added;
        char date[16], *text = strdup(names[i / 3]);
        snprintf(date, sizeof date, "20%02d-02-03", 10 + i % 3 * 5);
        make_job(&made, text, date, i % 5);
        made.sheet.client = made.sheet.work = text;
        for (int c = 0; c < JOB_CAPTURES; c++) {
            name_channel(&made.measurement[c], 1, i < 3 ? "left" : text);
            name_channel(&made.measurement[c], 2, i < 3 ? "right" : text);
        }
        if (i % 3 == 2) {
            made.capture[0].when = LDS_WHEN_AFTER;
            struct lds_figure *thd = &made.measurement[3].channel[0].figure[1];
            thd->value = thd->low = NAN;
            thd->high = -100.0;
            thd->flags = LDS_FLAG_BELOW_FLOOR;
        }
        assert_int_equal(lds_ledger_add_job(filled->path, &made.job, &added, NULL), LDS_OK);
        free_job(&made);
        free(text);
    }
    assert_int_equal(lds_ledger_open(filled->path, LDS_LEDGER_READ_ONLY, &filled->ledger, NULL), LDS_OK);
    assert_int_equal(lds_ledger_units(filled->ledger, &filled->unit, &filled->units, NULL), LDS_OK);
    assert_int_equal(filled->units, NAMES);
    *state = filled;
    return 0;
}

static int tear_down(void **state)
{
    struct filled *filled = *state;
    lds_ledger_units_free(filled->unit, filled->units);
    lds_ledger_close(filled->ledger);
    remove_folder(filled->folder);
    free(filled->path);
    free(filled);
    return 0;
}

static void read_history(const struct filled *filled, const char *name, struct lds_ledger_history *history)
{
    const struct lds_ledger_unit *unit = lds_ledger_find(filled->unit, filled->units, name, NULL);
    assert_non_null(unit);
    assert_int_equal(lds_ledger_history(filled->ledger, unit, history, NULL), LDS_OK);
}

static void check_page(char *text)
{
    size_t lines = 0;
    for (char *line = strtok(text, "\n"); line; line = strtok(NULL, "\n"), lines++) {
        if (lds_words_width(line) > 80)
            fail_msg("%d columns: %s", lds_words_width(line), line);
        for (const char *c = line; *c; c++)
            assert_true((unsigned char)*c >= 0x20 && *c != 0x7f);
        assert_null(strstr(line, "\xe2\x80\xae"));
    }
    assert_true(lines > 3);
}

static char *text_of(const struct lds_ledger_history *history, unsigned options)
{
    char *text = NULL;
    size_t size;
    FILE *out = open_memstream(&text, &size);
    assert_int_equal(lds_history_text(history, options, out, NULL), LDS_OK);
    fclose(out);
    return text;
}

static void test_pages(void **state)
{
    const struct filled *filled = *state;
    char *text = NULL;
    size_t size;
    FILE *out = open_memstream(&text, &size);
    assert_int_equal(lds_ledger_units_text(filled->unit, filled->units, out, NULL), LDS_OK);
    fclose(out);
    assert_non_null(strstr(text, "Sedge 25         0042                3  2010-02-03 2020-02-03\n"));
    check_page(text);
    free(text);
    for (int i = 0; i < NAMES; i++) {
        struct lds_ledger_history history;
        read_history(filled, names[i], &history);
        text = text_of(&history, 0);
        check_page(text);
        free(text);
        lds_ledger_history_free(&history);
    }
}

/* Of 0042 in channel 1, jobs at 0, 1 and 2 dB: THD -79 before, -89 after, then -78 and -88, -77 and below -100; noise
 * of the third job is of two captures after: 126 and 31.6 uV. */
static void test_table(void **state)
{
    const struct filled *filled = *state;
    struct lds_ledger_history history;
    read_history(filled, "0042", &history);
    char *text = text_of(&history, 0);
    assert_non_null(strstr(text, "Sine, 10 W into 8 ohm, sampled at 48 kHz, left\n"));
    assert_non_null(strstr(text, "Sine, 10 W into 8 ohm, sampled at 48 kHz, left and right\n"));
    assert_null(strstr(text, "channel 1"));
    assert_non_null(strstr(text, "2010-02-03 2010-02-03 2015-02-03 2015-02-03\n"));
    assert_non_null(strstr(text, "-79.00     -89.00     -78.00     -88.00\n"));
    assert_non_null(strstr(text, "-77.00     < -100\n"));
    assert_non_null(strstr(text, "  after (2)\n"));
    assert_non_null(strstr(text, "6 units of this make and type"));
    /* All other five have a last THD below -100 dB too: the intervals distinguish none. */
    assert_non_null(strstr(text, "< -100       -       -      0      5      0\n"));
    free(text);
    text = text_of(&history, LDS_SCREEN_KEYS);
    assert_non_null(strstr(text, "\n  thd                        dB          -79.00     -89.00"));
    assert_non_null(strstr(text, "\n  noise.band.20-20k          µV"));
    assert_null(strstr(text, "THD"));
    check_page(text);
    free(text);
    lds_ledger_history_free(&history);
}

static void test_json(void **state)
{
    const struct filled *filled = *state;
    char *path = path_in(filled->folder, "out.json");
    struct lds_ledger_history history;
    assert_int_equal(lds_ledger_units_json(filled->unit, filled->units, path, NULL), LDS_OK);
    json_t *root = json_load_file(path, 0, NULL);
    assert_non_null(root);
    assert_string_equal(json_string_value(json_object_get(root, "format")), "loadside-ledger");
    assert_int_equal(json_array_size(json_object_get(root, "units")), NAMES);
    json_decref(root);
    for (int i = 0; i < NAMES; i++) {
        read_history(filled, names[i], &history);
        assert_int_equal(lds_history_json(&history, path, NULL), LDS_OK);
        root = json_load_file(path, 0, NULL);
        assert_non_null(root);
        assert_string_equal(json_string_value(json_object_get(root, "format")), "loadside-history");
        assert_string_equal(json_string_value(json_object_get(json_object_get(root, "unit"), "serial")), names[i]);
        json_t *jobs = json_object_get(root, "jobs"), *series = json_object_get(root, "series");
        assert_int_equal(json_array_size(jobs), 3);
        assert_int_equal(json_array_size(json_object_get(json_array_get(jobs, 0), "captures")), JOB_CAPTURES);
        assert_int_equal(json_array_size(series), history.series);
        for (size_t k = 0; k < history.series; k++) {
            const json_t *one = json_array_get(series, k), *points = json_object_get(one, "points");
            const json_t *last = json_array_get(points, history.serie[k].points - 1);
            double value = history.serie[k].point[history.serie[k].points - 1].value;
            assert_string_equal(json_string_value(json_object_get(one, "key")), history.serie[k].key);
            assert_non_null(json_string_value(json_object_get(one, "channel_name")));
            if (i == 0)
                assert_string_equal(json_string_value(json_object_get(one, "channel_name")),
                                    history.serie[k].channel == 1 ? "left" : "right");
            if (isnan(value))
                assert_true(json_is_null(json_object_get(last, "value")));
            else
                assert_true(fabs(json_number_value(json_object_get(last, "value")) - value) <= 1e-14 * fabs(value));
            assert_int_equal(json_integer_value(json_object_get(json_object_get(one, "standing"), "units")), NAMES);
        }
        json_decref(root);
        lds_ledger_history_free(&history);
    }
    free(path);
}

/* Rows of RFC 4180; all with as many cells as the first. */
static size_t count_rows(const char *path, bool *formula)
{
    FILE *in = fopen(path, "rb");
    assert_non_null(in);
    size_t rows = 0, cells = 1, wanted = 0;
    bool quoted = false, start = true;
    for (int c; (c = fgetc(in)) != EOF;) {
        if (start && c == '"' && !quoted) {
            quoted = true;
            continue; /* the first character within the quotes counts as well */
        }
        if (start && strchr("=+-@\t\r", c))
            *formula = *formula || c == '=' || c == '@';
        start = false;
        if (c == '"') {
            quoted = !quoted;
        } else if (!quoted && c == ',') {
            cells++;
            start = true;
        } else if (!quoted && c == '\n') {
            wanted = rows == 0 ? cells : wanted;
            assert_int_equal(cells, wanted);
            rows++;
            cells = 1;
            start = true;
        }
    }
    fclose(in);
    assert_false(quoted);
    return rows;
}

static void test_csv(void **state)
{
    const struct filled *filled = *state;
    char *path = path_in(filled->folder, "out.csv");
    bool formula = false;
    assert_int_equal(lds_ledger_units_csv(filled->unit, filled->units, path, NULL), LDS_OK);
    assert_int_equal(count_rows(path, &formula), 1 + NAMES);
    for (int i = 0; i < NAMES; i++) {
        struct lds_ledger_history history;
        size_t points = 0;
        read_history(filled, names[i], &history);
        for (size_t k = 0; k < history.series; k++)
            points += history.serie[k].points;
        assert_int_equal(lds_history_csv(&history, path, NULL), LDS_OK);
        assert_int_equal(count_rows(path, &formula), 1 + points);
        lds_ledger_history_free(&history);
    }
    assert_false(formula);
    assert_int_equal(lds_ledger_units_csv(filled->unit, filled->units, "/dev/full", NULL), LDS_IO);
    free(path);
}

static void test_plots(void **state)
{
    const struct filled *filled = *state;
    static const char *const pictures[] = {"history-idle-48kHz-noise.band.20-20k", "history-idle-48kHz-mains.total",
                                           "history-sine-10W-8ohm-48kHz-thd", "history-sine-10W-8ohm-48kHz-tone.power",
                                           "history-sine-10W-8ohm-48kHz-crosstalk"};
    static const char *const suffixes[] = {"dat", "gp", "png", "svg"};
    for (int i = 0; i < 4; i++) {
        struct lds_ledger_history history;
        struct lds_error error = {0};
        int drawn = 0;
        char *folder = ledger_folder();
        read_history(filled, names[i], &history);
        if (lds_history_plots(&history, folder, 0, &drawn, &error) != LDS_OK)
            fail_msg("%s", error.message);
        lds_ledger_history_free(&history);
        for (int k = 0; k < 20; k++) {
            char name[128];
            snprintf(name, sizeof name, "%s.%s", pictures[k / 4], suffixes[k % 4]);
            char *path = path_in(folder, name);
            if (k % 4 < 2 || drawn)
                assert_int_equal(access(path, R_OK), 0);
            free(path);
        }
        char *nasty = path_in(folder, "nasty");
        assert_int_equal(access(nasty, F_OK), -1);
        free(nasty);
        remove_folder(folder);
        if (!drawn)
            print_message("gnuplot was not found: no pictures\n");
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_pages), cmocka_unit_test(test_table),
                                       cmocka_unit_test(test_json), cmocka_unit_test(test_csv),
                                       cmocka_unit_test(test_plots)};
    return cmocka_run_group_tests(tests, set_up, tear_down);
}
