/* A comparison and units made by hand, in every format: with each word, open intervals, sides below the floor, limits,
 * lines that came and went, and names that must neither break a page nor control a terminal. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>
#include <dirent.h>
#include <jansson.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "loadside/report.h"
#include "record/series.h"
#include "report/sample.h"
#include "safe_text.h"

static char thd[] = "thd", noise[] = "noise.band.20-20k", rms[] = "level.rms", total[] = "mains.total", snr[] = "snr",
            hum[] = "mains.odd", hertz[] = "tone.frequency", balance[] = "balance.1-2", weighted[] = "noise.a",
            offset[] = "level.dc", peak[] = "residual.peak", even[] = "mains.even", loud[] = "mains.buzz";

/* The code under test never writes to these or frees them. */
static struct lds_change changes[] = {
    {balance,  "dB", "dB",     0.05,  0.06, 0.01,  -0.05, 0.07, 0.7,   1.0, 0.03,
     INFINITY, 0.2,  LDS_SAME, false, true, false, NAN,   0,    false, {0}, {"left", "right"}},
    {thd,
     "dB",
     "dB",
     -90.4,
     -93.0,
     -2.6,
     -2.8,
     -2.4,
     1e-9,
     1e-8,
     0.1,
     812.0,
     1.0,
     LDS_LOWER,
     false,
     true,
     false,
     NAN,
     LDS_FLAG_CHAIN_NOT_MEASURED,
     false,
     {0},
     {0}},
    {noise,
     "dB",
     "V",
     40e-6,
     50e-6,
     1.938,
     1.6,
     2.3,
     1e-6,
     1e-5,
     0.15,
     60.0,
     0.5,
     LDS_HIGHER,
     false,
     true,
     true,
     NAN,
     LDS_FLAG_UNSTEADY,
     false,
     {0},
     {0}},
    {rms,      "dB", "V",      15.0,  15.001, 0.0006, -0.08, 0.08, 0.98,  1.0, 0.04,
     INFINITY, 0.2,  LDS_SAME, false, true,   false,  NAN,   0,    false, {0}, {0}},
    {total,
     "dB",
     "V",
     93e-6,
     NAN,
     NAN,
     NAN,
     -12.3,
     NAN,
     NAN,
     NAN,
     NAN,
     4.0,
     LDS_LOWER,
     true,
     true,
     false,
     NAN,
     LDS_FLAG_BELOW_FLOOR,
     false,
     {0},
     {0}},
    {snr,  "dB", "dB",           111.0, 110.6, -0.4,  -1.1, 0.3, 0.2,   1.0, 0.3,
     40.0, 0.5,  LDS_UNRESOLVED, false, true,  false, 45.2, 0,   false, {0}, {0}},
    {hum, "dB",           "V",   3e-6, 4e-6,  2.5, -3.0, 8.0,   0.3, 1.0, 2.5, 9.0,
     4.0, LDS_UNRESOLVED, false, true, false, NAN, 0,    false, {0}, {0}},
    {weighted,
     "dB",
     "V",
     3e-6,
     3e-6,
     0.0,
     -1.0,
     1.0,
     1.0,
     1.0,
     0.5,
     9.0,
     0.5,
     LDS_HIDDEN_BY_CHAIN,
     false,
     true,
     false,
     NAN,
     LDS_FLAG_CHAIN_LIMITED,
     false,
     {0},
     {0}},
    {peak,  "dB", "V",   3e-4, 2.9e-4, -0.294, -0.4, -0.19, 1e-6, 1e-5, 0.05, 900.0, 1.0, LDS_SLIGHTLY_LOWER,
     false, true, false, NAN,  0,      false,  {0},  {0}},
    {even, "dB",           "V",   3e-6, 4e-6,  2.5, -3.0, 8.0,  0.3, 1.0, 2.5, 3.0,
     4.0,  LDS_UNRESOLVED, false, true, false, NAN, 0,    true, {0}, {0}},
    {loud,     "dB", "dBFS",    -82.5, -97.5, -15.0, NAN, -8.88, 1e-6,  1e-5, 3.0,
     INFINITY, 4.0,  LDS_LOWER, true,  true,  false, NAN, 0,     false, {0},  {0}},
    {hertz, "Hz", "Hz",     1000.0213, 1000.0214, 0.0001, -0.0002, 0.0004, NAN,   NAN, NAN,
     NAN,   NAN,  LDS_SAME, false,     false,     false,  NAN,     0,      false, {0}, {0}},
    {offset, "V",   "V",       -0.012, 0.004, -0.008, -0.0083, -0.0077, 1e-5,  1e-4, 1e-4,
     7.0,    0.001, LDS_LOWER, false,  true,  false,  NAN,     0,       false, {0},  {0}},
};
static struct lds_line_change lines[] = {
    /* main sets the kind of each */
    {NULL, 2, 2000.04, 564e-6, 126e-6, -13.0, -13.5, -12.5, false, false, NAN, LDS_LOWER, ""},
    {NULL, 5, 250.04, 1.2e-6, NAN, NAN, NAN, -12.0, false, true, 0.3e-6, LDS_LOWER, ""},
    {NULL, 7, 350.06, 1.2e-6, 1.3e-6, 0.7, -2.0, 3.4, false, false, NAN, LDS_UNRESOLVED, ""},
    {NULL, 9, 450.06, 1.2e-6, 1.3e-6, 0.7, 0.4, 1.0, false, false, NAN, LDS_SLIGHTLY_HIGHER, ""},
    {NULL, 0, 61234.5, NAN, 5.31e-6, NAN, 14.0, NAN, true, false, 1.1e-6, LDS_HIGHER,
     "unexplained: check for oscillation"},
};
static struct lds_axis_span bands[] = {
    {.x = 100.0, .from = 90.0, .to = 111.0, .change = -0.1, .low = -0.9, .high = 0.7},
    {.x = 1000.0, .from = 890.0, .to = 1110.0, .change = NAN, .low = NAN, .high = NAN},
    {.x = 10000.0, .from = 8900.0, .to = 11100.0, .change = 3.1, .low = 2.4, .high = 3.8, .called = true}};
static struct lds_axis_span regions[] = {{.x = 10000.0,
                                          .from = 8900.0,
                                          .to = 11100.0,
                                          .change = 3.1,
                                          .low = 2.4,
                                          .high = 3.8,
                                          .p_adjusted = 1e-4,
                                          .word = LDS_HIGHER}};
static struct lds_axis_change axes[] = {
    {.key = "floor", .calibrated = true, .points = 3, .point = bands, .regions = 1, .region = regions, .matters = 0.5}};
static char absent_reason[] = "no such figure";
static struct lds_limit_result limits[] = {
    {thd, LDS_WITHIN, -93.0, -93.2, -92.8, -86.0206, LDS_AT_MOST, "", NULL, {0}},
    {noise, LDS_OVER, 50e-6, 48e-6, 52e-6, 20e-6, LDS_AT_MOST, "", NULL, {0}},
    {rms, LDS_WITHIN, 0.0006, -0.08, 0.08, 0.1, LDS_CHANGE_AT_MOST, "", NULL, {0}},
    {snr, LDS_NOT_SHOWN, NAN, NAN, NAN, 100.0, LDS_AT_LEAST, "", absent_reason, {0}},
};
static char why[] = "it covers 20 to 20000 Hz before, 20 to 10000 Hz after", thd_n[] = "thd_n";
static struct lds_absent not_compared[] = {{.key = thd_n, .reason = why, .name = {0}}};
static char hint_text[] = "hint (common practice): check for oscillation", *hints[] = {hint_text};
static char note_text[] = "one capture a side cannot show what re-cabling does", *notes[] = {note_text};
static struct lds_compared_channel channel = {
    .channel = 1,
    .calibrated = true,
    .changes = sizeof changes / sizeof changes[0],
    .change = changes,
    .not_compared = 1,
    .not_compared_why = not_compared,
    .lines = sizeof lines / sizeof lines[0],
    .line = lines,
    .axes = 1,
    .axis = axes,
    .limits = 4,
    .limit = limits,
    .hints = 1,
    .hint = hints,
    .words = {4, 1, 1, 0, 2, 3, 1},
};

/* A comparison of a file of that name with another. */
static struct lds_comparison comparison_of(char **before, char **after)
{
    return (struct lds_comparison){
        .before_files = 1,
        .after_files = 1,
        .before_file = before,
        .after_file = after,
        .repeatability = LDS_REPEAT_BENCH,
        .repeat_db = {NAN, 0.03, 0.1, 0.2, NAN},
        .notes = 1,
        .note = notes,
        .channels = 1,
        .channel = &channel,
        .worse = true,
    };
}

static char other[] = "after.wav", *after_files[] = {other};

static double values[] = {1e-6, 1.1e-6, 0.9e-6, NAN, 9e-6}, lows[] = {0.9e-6, 1e-6, 0.8e-6, NAN, 8.9e-6},
              highs[] = {1.1e-6, 1.2e-6, 1e-6, 0.2e-6, 9.1e-6};
static struct lds_unit_row rows[] = {{noise, "V", 5, values, lows, highs, 1.05e-6, 0.15e-6, 4, 1e-6, true, {0}}};

static char units_answer[] = "None of the units stands out.";

static struct lds_unit_table table_of(char **names)
{
    return (struct lds_unit_table){.units = 5,
                                   .name = names,
                                   .channel = 1,
                                   .rows = 1,
                                   .row = rows,
                                   .not_compared = 1,
                                   .not_compared_why = not_compared,
                                   .notes = 1,
                                   .note = notes,
                                   .summary = units_answer,
                                   .worse = true};
}

/* Every line fits, and no name controls the terminal. */
static void check_page(char *text)
{
    for (char *rest = text, *line; (line = strsep(&rest, "\n"));) {
        if (lds_words_width(line) > 80)
            fail_msg("%d columns: \"%s\"", lds_words_width(line), line);
        for (const char *c = line; *c; c++)
            if ((unsigned char)*c < 0x20)
                fail_msg("a control character in \"%s\"", line);
        if (line[0] && line[strlen(line) - 1] == ' ')
            fail_msg("a space at the end of \"%s\"", line);
    }
}

static char *text_of(const struct lds_comparison *comparison, const struct lds_unit_table *table)
{
    char *text = NULL;
    size_t size = 0;
    FILE *out = open_memstream(&text, &size);
    assert_non_null(out);
    assert_int_equal(comparison ? lds_comparison_text(comparison, out, NULL) : lds_units_text(table, 1, 0, out, NULL),
                     LDS_OK);
    fclose(out);
    return text;
}

static void test_text(void **state)
{
    (void)state;
    static const char answer[] = "Hum is at least 12 dB lower. Distortion is 2.6 dB lower.";
    static const char *const parts[] = {
        "lower   -2.60  ±0.20     -90.40 → -93.00 dB",
        "higher   1.94  ±0.36         40.0 → 50.0 µV",
        "      unsteady\n",
        "\n  hum, buzz: lower, 8.8 or more dB; -82.5 → -97.5 dBFS\n",
        "lower          12 or more 93.0 µV → < floor",
        "      captures of 46 s would settle it\n",
        "no length of capture will settle it: repeat the capture on both sides\n",
        "the capture chain hides it",
        "balance, left and right",
        "vanished",
        "< 300 nV",
        "appeared",
        "      unexplained: check for oscillation\n",
        "The other 2 lines: 1 changed by less than matters; of 1 it cannot be told.",
        ("\nChanged, by less than matters              change, dB             before → after\n"
         "  residual, peak                     lower   -0.29  ±0.11"),
        "      the repeats scatter too much: more of them, or steadier ones, would tell\n",
        "Higher from 8.9 kHz to 11.1 kHz, by 3.10 ±0.70 dB",
        "within: THD -93.00 ±0.20 dB; at most -86.02 dB",
        "over: noise without hum, 20 Hz to 20 kHz 50.0 ±2.0 µV; at most 20 µV",
        "not shown: SNR; at least 100 dB; no such figure",
        "hint (common practice): check for oscillation",
        "THD+N: it covers",
    };
    char before[] = "before.wav", *files[] = {before};
    const struct lds_comparison comparison = comparison_of(files, after_files);
    char *text = text_of(&comparison, NULL);
    if (strstr(text, answer) != text)
        fail_msg("\"%s\" expected first in: %s", answer, text);
    for (size_t i = 0; i < sizeof parts / sizeof parts[0]; i++)
        if (!strstr(text, parts[i])) {
            fputs(text, stderr);
            fail_msg("\"%s\" is missing", parts[i]);
        }
    free(text);
    for (size_t i = 0; i < nasty_names_count; i++) {
        char *name = strdup(nasty_names[i]), *names[] = {name, name, name, name, name};
        const struct lds_comparison nasty = comparison_of(&name, after_files);
        const struct lds_unit_table table = table_of(names);
        check_page(text = text_of(&nasty, NULL));
        free(text);
        check_page(text = text_of(NULL, &table));
        free(text);
        free(name);
    }
}

/* Each column has the digits that its own interval supports, the spread two, and the whole row has one unit. */
static void test_units_text(void **state)
{
    (void)state;
    double value[] = {1.234e-6, 21.06e-6, 1.5e-6, NAN, 9.0e-6}, low[] = {1.224e-6, 20e-6, 1.45e-6, NAN, 8.9e-6},
           high[] = {1.244e-6, 22e-6, 1.55e-6, 0.2e-6, 9.1e-6};
    double name_value[] = {-1.0, -2.0, -3.0, -2.5, -1.5}, none[] = {NAN, NAN, NAN, NAN, NAN};
    struct lds_unit_row two[] = {
        {noise, "V", 5, value, low, high, 1.5e-6, 0.234e-6, 1, 1e-6, true, lds_key_read(noise)},
        {snr, "dB", 5, name_value, none, none, -2.0, 0.741, -1, NAN, false, lds_key_read(snr)}};
    char a[] = "a.wav", *names[] = {a, a, a, a, a};
    struct lds_unit_table table = table_of(names);
    table.row = two;
    table.rows = 2;
    char *text = text_of(NULL, &table);
    static const char *const parts[] = {
        "  noise without hum, 20 Hz to 20 kHz µV            1.5    0.23   1.234    21.1*\n",
        "  noise without hum, 20 Hz to 20 kHz µV          1.500  < 0.20    9.00\n",
        "  SNR                                dB          -2.00    0.74   -1.00   -2.00\n",
        "  * stands out from the other units\n",
    };
    for (size_t i = 0; i < sizeof parts / sizeof parts[0]; i++)
        if (!strstr(text, parts[i])) {
            fputs(text, stderr);
            fail_msg("\"%s\" is missing", parts[i]);
        }
    check_page(text);
    free(text);
}

/* Levels of lines are volts or dBFS as the channel says. */
static void test_not_calibrated(void **state)
{
    (void)state;
    char *folder = new_folder(), *path = NULL, before[] = "b.wav", *files[] = {before};
    const struct lds_comparison comparison = comparison_of(files, after_files);
    assert_true(asprintf(&path, "%s/a.json", folder) > 0);
    channel.calibrated = false;
    enum lds_status status = lds_comparison_json(&comparison, path, NULL);
    channel.calibrated = true;
    assert_int_equal(status, LDS_OK);
    json_t *root = json_load_file(path, 0, NULL), *volts;
    double dbfs;
    assert_int_equal(
        json_unpack(root, "{s:[{s:[{s:o, s:F}]}]}", "channels", "lines", "before_v", &volts, "before_dbfs", &dbfs), 0);
    assert_true(json_is_null(volts));
    assert_true(fabs(dbfs - 20.0 * log10(564e-6 * sqrt(2.0))) < 1e-6);
    json_decref(root);
    unlink(path);
    rmdir(folder);
    free(path);
    free(folder);
}

static bool documented(const char *page, const char *name)
{
    char code[128], quoted[128];
    snprintf(code, sizeof code, "`%s`", name);
    snprintf(quoted, sizeof quoted, "\"%s\"", name);
    return strstr(page, code) || strstr(page, quoted);
}

/* Names of members, at all levels; under some of them they are keys of figures. */
static void check_members(json_t *value, const char *page)
{
    size_t i;
    json_t *child;
    const char *name;
    json_array_foreach(value, i, child)
    {
        check_members(child, page);
    }
    json_object_foreach(value, name, child)
    {
        if (!documented(page, name))
            fail_msg("\"%s\" does not stand in the page", name);
        bool keyed = strcmp(name, "changes") == 0 || strcmp(name, "not_compared") == 0 || strcmp(name, "rows") == 0;
        const char *key;
        json_t *inner;
        if (!keyed)
            check_members(child, page);
        else
            json_object_foreach(child, key, inner) check_members(inner, page);
    }
}

static char *docs(const char *name)
{
    char *path = NULL;
    assert_true(asprintf(&path, "%s/%s", getenv("DOCS"), name) > 0);
    char *text = read_all(path);
    free(path);
    return text;
}

static void test_json(void **state)
{
    (void)state;
    char *folder = new_folder(), *path = NULL, *page = docs("json.md"), before[] = "b\xff.wav", *files[] = {before};
    char *names[] = {before, before, before, before, before};
    const struct lds_comparison comparison = comparison_of(files, after_files);
    const struct lds_unit_table table = table_of(names);
    assert_true(asprintf(&path, "%s/a.json", folder) > 0);
    assert_int_equal(lds_comparison_json(&comparison, path, NULL), LDS_OK);
    json_t *root = json_load_file(path, 0, NULL);
    assert_non_null(root);
    check_members(root, page);
    const char *format, *repeatability, *word, *unit, *file;
    double value, high;
    int lower, worse, version;
    json_t *unknown, *no_word;
    assert_int_equal(
        json_unpack(
            root, "{s:s, s:i, s:s, s:b, s:[{s:s}], s:[{s:{s:{s:F, s:s, s:s}, s:{s:o, s:F}, s:{s:o}}, s:{s:i}}]}",
            "format", &format, "version", &version, "repeatability", &repeatability, "worse", &worse, "before", "file",
            &file, "channels", "changes", "thd", "change", &value, "word", &word, "unit", &unit, "mains.total", "after",
            &unknown, "high", &high, "tone.frequency", "word", &no_word, "words", "lower", &lower),
        0);
    assert_string_equal(format, "loadside-comparison");
    assert_string_equal(repeatability, "bench");
    assert_string_equal(word, "lower");
    assert_string_equal(unit, "dB");
    assert_string_equal(file, "b\xEF\xBF\xBD.wav");
    assert_true(version == 1 && worse && value == -2.6 && high == -12.3 && lower == 4);
    assert_true(json_is_null(unknown) && json_is_null(no_word));
    json_decref(root);
    assert_int_equal(lds_units_json(&table, 1, path, NULL), LDS_OK);
    root = json_load_file(path, 0, NULL);
    check_members(root, page);
    int stands_out;
    assert_int_equal(json_unpack(root, "{s:[{s:{s:{s:i}}}]}", "tables", "rows", noise, "stands_out", &stands_out), 0);
    assert_int_equal(stands_out, 5);
    json_decref(root);
    unlink(path);
    rmdir(folder);
    free(path);
    free(page);
    free(folder);
}

/* Cells of a row that has no line break inside a cell. */
static size_t cells_of(const char *row)
{
    size_t cells = 1;
    bool quoted = false;
    for (; *row; row++) {
        quoted ^= *row == '"';
        cells += *row == ',' && !quoted;
    }
    return cells;
}

static void check_sheet(char *text, const char *page)
{
    size_t wanted = 0, counted = 0;
    for (char *rest = text, *row; (row = strsep(&rest, "\r"));) {
        row += *row == '\n';
        if (!*row)
            continue;
        if (counted++ == 0) {
            wanted = cells_of(row);
            char *copy = strdup(row);
            for (char *left = copy, *column; (column = strsep(&left, ","));)
                if (!documented(page, column))
                    fail_msg("the column %s does not stand in docs/csv.md", column);
            free(copy);
        } else if (cells_of(row) != wanted) {
            fail_msg("%zu cells, %zu expected: %s", cells_of(row), wanted, row);
        }
    }
    assert_true(counted > 5);
}

static void test_csv(void **state)
{
    (void)state;
    char *folder = new_folder(), *path = NULL, *page = docs("csv.md"), before[] = "=1,\"x\".wav", *files[] = {before};
    char *names[] = {before, before, before, before, before};
    const struct lds_comparison comparison = comparison_of(files, after_files);
    const struct lds_unit_table table = table_of(names);
    assert_true(asprintf(&path, "%s/a.csv", folder) > 0);
    assert_int_equal(lds_comparison_csv(&comparison, path, NULL), LDS_OK);
    char *text = read_all(path);
    assert_non_null(strstr(text, "\r\n1,figure,thd,THD,-90.4,-93,dB,-2.6,-2.8,-2.4,dB,1e-09,1e-08,1,lower,no,"));
    const char *region = strstr(text, "\r\n1,region,noise.region.1,"),
               *over = strstr(text, "\r\n1,at most,noise.band.20-20k,");
    assert_true(region && over && strstr(text, ",appeared,yes,") && strstr(text, ",vanished,no,"));
    assert_true(strstr(region, ",higher,yes,") && strstr(region, ",higher,yes,") < strstr(region + 2, "\r\n"));
    assert_true(strstr(over, ",over,yes,") && strstr(over, ",over,yes,") < strstr(over + 2, "\r\n"));
    check_sheet(text, page);
    free(text);
    assert_int_equal(lds_units_csv(&table, 1, path, NULL), LDS_OK);
    text = read_all(path);
    assert_non_null(strstr(text, "\"'=1,\"\"x\"\".wav\",9e-06,V"));
    check_sheet(text, page);
    free(text);
    unlink(path);
    rmdir(folder);
    free(path);
    free(page);
    free(folder);
}

/* Removes a folder; returns how many of its files have this ending. */
static size_t take_away(const char *folder, const char *suffix)
{
    size_t count = 0;
    DIR *dir = opendir(folder);
    assert_non_null(dir);
    for (struct dirent *entry; (entry = readdir(dir));) {
        char *path = NULL;
        assert_true(asprintf(&path, "%s/%s", folder, entry->d_name) > 0);
        size_t length = strlen(entry->d_name), tail = strlen(suffix);
        count += length > tail && strcmp(entry->d_name + length - tail, suffix) == 0;
        unlink(path);
        free(path);
    }
    closedir(dir);
    assert_int_equal(rmdir(folder), 0); /* nothing made from a name is left */
    return count;
}

static void test_plots(void **state)
{
    (void)state;
    for (size_t i = 1; i < nasty_names_count; i += 2) {
        struct lds_measurement both[2] = {sample_measurement(nasty_names[i], true), sample_measurement("a.wav", true)};
        const struct lds_comparison comparison = comparison_of(&both[0].file, &both[1].file);
        char *folder = new_folder();
        int drawn = 0;
        struct lds_error error = {0};
        if (lds_comparison_plots(&comparison, (struct lds_side){&both[0], 1}, (struct lds_side){&both[1], 1}, folder, 0,
                                 &drawn, &error) != LDS_OK)
            fail_msg("\"%s\": %s", nasty_names[i], error.message);
        assert_int_equal(take_away(folder, drawn ? ".png" : ".gp"), 7);
        lds_measurement_free(&both[0]);
        lds_measurement_free(&both[1]);
        free(folder);
    }
}

static void check_drawn(const char *data, int block, double x, int column, double truth)
{
    double drawn = sample_plotted(data, block, x, column);
    if (!(fabs(drawn - truth) <= 0.005 + 1e-4 * fabs(truth)))
        fail_msg("block %d at %g: %g expected, found %g", block, x, truth, drawn);
}

static double dbv(double volts)
{
    return 20.0 * log10(volts);
}

static char *file_of(const char *folder, const char *name)
{
    char *path = NULL;
    assert_true(asprintf(&path, "%s/comparison-channel1-%s", folder, name) > 0);
    char *text = read_all(path);
    free(path);
    return text;
}

/* Lines go from their level before to that after, to its limit where there is none; harmonics have their intervals, and
 * the mains of both sides is in phase wherever the captures begin. */
static void test_plots_values(void **state)
{
    (void)state;
    struct lds_measurement both[2] = {sample_measurement("b.wav", true), sample_measurement("a.wav", true)};
    const struct lds_comparison comparison = comparison_of(&both[0].file, &both[1].file);
    const struct lds_series *old = lds_channel_series(&both[0].channel[0], "mains_waveform"),
                            *harmonics = lds_channel_series(&both[0].channel[0], "harmonics");
    struct lds_series *turned = lds_channel_own_series(&both[1].channel[0], "mains_waveform");
    for (size_t i = 0; i < old->rows; i++)
        lds_series_set(turned, i, LDS_CURVE_Y,
                       0.5 * lds_series_value(old, (i + old->rows / 3) % old->rows, LDS_CURVE_Y));
    char *folder = new_folder();
    int drawn = 0;
    assert_int_equal(lds_comparison_plots(&comparison, (struct lds_side){&both[0], 1}, (struct lds_side){&both[1], 1},
                                          folder, LDS_PLOT_SCRIPTS, &drawn, NULL),
                     LDS_OK);
    char *spectra = file_of(folder, "spectra.dat"), *script = file_of(folder, "spectra.gp"),
         *orders = file_of(folder, "harmonics.dat"), *mains = file_of(folder, "mains.dat");
    enum { LOWER = 2, HIGHER };
    check_drawn(spectra, LOWER, 2000.04, 1, dbv(564e-6));
    check_drawn(spectra, LOWER, 2000.04, 2, dbv(126e-6));
    check_drawn(spectra, LOWER, 250.04, 1, dbv(1.2e-6));
    check_drawn(spectra, LOWER, 250.04, 2, dbv(0.3e-6));
    check_drawn(spectra, HIGHER, 61234.5, 1, dbv(1.1e-6));
    check_drawn(spectra, HIGHER, 61234.5, 2, dbv(5.31e-6));
    assert_non_null(strstr(script, "'2nd −13 dB'"));
    struct lds_cell second = lds_series_cell(harmonics, 1, LDS_LINE_RELATIVE);
    check_drawn(orders, 0, 1.88, 2, second.value);
    check_drawn(orders, 0, 1.88, 3, second.low);
    check_drawn(orders, 0, 1.88, 4, second.high);
    double scale = sample_plotted(mains, 0, 5.0, 1) / sample_plotted(mains, 1, 5.0, 1);
    assert_true(fabs(scale - 2.0) < 0.05);
    free(spectra);
    free(script);
    free(orders);
    free(mains);
    take_away(folder, ".gp");
    free(folder);
    lds_measurement_free(&both[0]);
    lds_measurement_free(&both[1]);
}

/* A picture says whether it shows all captures of a side, or only the first. */
static void test_plots_of_several(void **state)
{
    (void)state;
    static const struct {
        const char *name, *says;
    } cases[] = {{"changes", "set label 2 'before: b.wav and 1 more'"},
                 {"density-change", "set label 3 'after: a.wav'"},
                 {"harmonics", "set label 2 'before: b.wav and 1 more'"},
                 {"spectra", "set label 2 'before: b.wav, the first of 2'"},
                 {"densities", "set label 2 'before: b.wav, the first of 2'"}};
    struct lds_measurement m[3] = {sample_measurement("in/b.wav", true), sample_measurement("c.wav", true),
                                   sample_measurement("a.wav", true)};
    const struct lds_comparison comparison = comparison_of(&m[0].file, &m[2].file);
    char *folder = new_folder();
    int drawn = 0;
    assert_int_equal(lds_comparison_plots(&comparison, (struct lds_side){m, 2}, (struct lds_side){&m[2], 1}, folder, 0,
                                          &drawn, NULL),
                     LDS_OK);
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        char *path = NULL;
        assert_true(asprintf(&path, "%s/comparison-channel1-%s.gp", folder, cases[i].name) > 0);
        char *script = read_all(path);
        if (!strstr(script, cases[i].says))
            fail_msg("%s lacks %s", cases[i].name, cases[i].says);
        free(script);
        free(path);
    }
    take_away(folder, ".gp");
    free(folder);
    for (int i = 0; i < 3; i++)
        lds_measurement_free(&m[i]);
}

static void name_all(void)
{
    for (size_t i = 0; i < channel.changes; i++)
        changes[i].name = lds_key_read(changes[i].key);
    for (size_t i = 0; i < channel.limits; i++)
        limits[i].name = lds_key_read(limits[i].key);
    rows[0].name = lds_key_read(rows[0].key);
    not_compared[0].name = lds_key_read(not_compared[0].key);
}

int main(void)
{
    name_all();
    axes[0].kind = lds_series_kind_find("floor");
    static const char *const line_kind[] = {"harmonics", "mains", "mains", "mains", "spurs"};
    for (size_t i = 0; i < sizeof line_kind / sizeof *line_kind; i++)
        lines[i].kind = lds_series_kind_find(line_kind[i]);
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_text),
        cmocka_unit_test(test_units_text),
        cmocka_unit_test(test_not_calibrated),
        cmocka_unit_test(test_json),
        cmocka_unit_test(test_csv),
        cmocka_unit_test(test_plots),
        cmocka_unit_test(test_plots_values),
        cmocka_unit_test(test_plots_of_several),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
