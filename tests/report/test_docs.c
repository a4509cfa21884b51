/* The documents on the outputs name everything in the outputs. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>
#include <jansson.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "loadside/report.h"
#include "loadside/series.h"
#include "report/sample.h"

static char *page(const char *name, bool needed)
{
    char *path = NULL;
    assert_true(asprintf(&path, "%s/%s", getenv("DOCS"), name) > 0);
    char *text = needed || access(path, R_OK) == 0 ? read_all(path) : calloc(1, 1);
    free(path);
    return text;
}

/* The word is on the page as code: `word`, `word.…` or "word". */
static bool names(const char *text, const char *word)
{
    static const char *const before[] = {"`", "`", "\""}, *const after[] = {"`", ".", "\""};
    bool found = false;
    for (size_t i = 0; !found && i < sizeof before / sizeof before[0]; i++) {
        char code[128];
        snprintf(code, sizeof code, "%s%s%s", before[i], word, after[i]);
        found = strstr(text, code) != NULL;
    }
    return found;
}

static void test_keys_and_flags(void **state)
{
    (void)state;
    char *json = page("json.md", true), *figures = page("figures.md", false);
    size_t count;
    const struct lds_key *keys = lds_keys(&count);
    for (size_t i = 0; i < count; i++)
        if (!names(json, keys[i].stem) && !names(figures, keys[i].stem))
            fail_msg("%s stands neither in docs/json.md nor in docs/figures.md", keys[i].stem);
    const struct lds_series_kind *kind = lds_series_kinds(&count);
    for (size_t i = 0; i < count; i++)
        if (!names(json, kind[i].key))
            fail_msg("the series %s does not stand in docs/json.md", kind[i].key);
    for (int i = 0; i < LDS_FLAGS; i++)
        if (!names(json, lds_flag_name((enum lds_flag)(1u << i))))
            fail_msg("the flag \"%s\" does not stand in docs/json.md", lds_flag_name((enum lds_flag)(1u << i)));
    free(json);
    free(figures);
}

/* ---- lists of words ---- */

struct words {
    const char *word[64];
    size_t count;
};

static void add_word(struct words *words, const char *word)
{
    assert_true(words->count < sizeof words->word / sizeof words->word[0]);
    words->word[words->count++] = word;
}

static bool has_word(const struct words *words, const char *word, size_t length)
{
    for (size_t i = 0; i < words->count; i++)
        if (strlen(words->word[i]) == length && strncmp(words->word[i], word, length) == 0)
            return true;
    return false;
}

/* Between these two places of a page stand exactly these words, each between two marks. */
static void lists(const char *text, const char *from, const char *to, char mark, const struct words *words)
{
    const char *begin = strstr(text, from), *end = begin ? strstr(begin + strlen(from), to) : NULL;
    if (!end)
        fail_msg("no list from '%s' to '%s'", from, to);
    struct words found = {0};
    size_t lengths = 0, wanted = 0;
    for (const char *c = strchr(begin + strlen(from), mark); c && c < end; c = strchr(c, mark)) {
        const size_t length = strcspn(++c, (char[]){mark, '\0'});
        if (!has_word(words, c, length))
            fail_msg("after '%s' stands %.*s, which the table does not have there", from, (int)length, c);
        add_word(&found, c);
        lengths += length;
        c += length + 1;
    }
    for (size_t i = 0; i < words->count; i++)
        wanted += strlen(words->word[i]);
    if (found.count != words->count || lengths != wanted)
        fail_msg("after '%s' stand %zu words; the table has %zu: %s, ...", from, found.count, words->count,
                 words->count ? words->word[0] : "");
}

bool lds_is_judged(const struct lds_figure *figure); /* compare/work.h, which has a struct lds_part of its own */

static void test_lists_of_keys(void **state)
{
    (void)state;
    char *text = page("figures.md", true);
    struct words shapes = {0}, shown = {0}, left_out = {0};
    size_t count;
    const struct lds_key *keys = lds_keys(&count);
    for (size_t i = 0; i < count; i++) {
        if (keys[i].shape_of != LDS_FIGURE_OTHER)
            add_word(&shapes, keys[i].stem);
        if (keys[i].compared == LDS_NOT_COMPARED && keys[i].section != LDS_TRUST)
            add_word(&left_out, keys[i].stem);
        struct lds_figure figure = {.name.row = &keys[i]};
        snprintf(figure.unit, sizeof figure.unit, "%s", keys[i].unit); /* calibrated */
        if (keys[i].compared != LDS_NOT_COMPARED && !lds_is_judged(&figure))
            add_word(&shown, keys[i].stem);
    }
    lists(text, "A shape\n(", ")", '`', &shapes);
    lists(text, "**Shown but not judged**", "**Left out**", '`', &shown);
    lists(text, "**Left out**", "\n- ", '`', &left_out);
    free(text);
}

static void test_kinds_of_signal(void **state)
{
    (void)state;
    char *json = page("json.md", true), *figures = page("figures.md", true);
    struct words all = {0}, unsteady = {0};
    for (int kind = LDS_SIGNAL_NONE + 1; kind < LDS_SIGNALS; kind++) {
        char row[64];
        const char *name = lds_signal_name((enum lds_signal_kind)kind);
        add_word(&all, name);
        if (!lds_signal_is_steady((enum lds_signal_kind)kind))
            add_word(&unsteady, name);
        snprintf(row, sizeof row, "\n| %s | ", name);
        if (!strstr(strstr(figures, "### What was played"), row))
            fail_msg("what shows the signal %s does not stand in docs/figures.md", name);
    }
    lists(json, "### Signal", "(docs/figures.md)", '"', &all);
    lists(figures, "whose level changes all the time", "\n", '`', &unsteady);
    free(json);
    free(figures);
}

/* ---- members and columns ---- */

/* Names of members, at all levels; under "figures" and "absent" they are keys of figures. */
static void check_members(json_t *value, const char *text)
{
    size_t i;
    json_t *child;
    const char *name;
    json_array_foreach(value, i, child)
    {
        check_members(child, text);
    }
    json_object_foreach(value, name, child)
    {
        bool keyed = strcmp(name, "figures") == 0 || strcmp(name, "absent") == 0;
        if (!names(text, name))
            fail_msg("\"%s\" does not stand in docs/json.md", name);
        if (!keyed) {
            check_members(child, text);
            continue;
        }
        const char *key;
        json_t *figure;
        json_object_foreach(child, key, figure)
        {
            check_members(figure, text);
        }
    }
}

static void test_members(void **state)
{
    (void)state;
    struct lds_measurement both[2] = {sample_measurement("a.wav", true), sample_measurement("b.wav", false)};
    char *folder = new_folder(), *path = NULL, *text = page("json.md", true);
    assert_true(asprintf(&path, "%s/a.json", folder) > 0);
    assert_int_equal(lds_report_json(both, 2, path, NULL), LDS_OK);
    json_t *root = json_load_file(path, 0, NULL);
    assert_non_null(root);
    check_members(root, text);
    json_decref(root);
    unlink(path);
    rmdir(folder);
    free(path);
    free(folder);
    free(text);
    lds_measurement_free(&both[0]);
    lds_measurement_free(&both[1]);
}

static void test_columns(void **state)
{
    (void)state;
    char *folder = new_folder(), *path = NULL, *text = page("csv.md", true);
    assert_true(asprintf(&path, "%s/a.csv", folder) > 0);
    assert_int_equal(lds_report_csv(NULL, 0, path, NULL), LDS_OK);
    char *header = read_all(path), *rest = header;
    header[strcspn(header, "\r")] = '\0';
    for (char *column; (column = strsep(&rest, ","));)
        if (!names(text, column))
            fail_msg("the column %s does not stand in docs/csv.md", column);
    free(header);
    unlink(path);
    rmdir(folder);
    free(path);
    free(folder);
    free(text);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_keys_and_flags),  cmocka_unit_test(test_lists_of_keys),
        cmocka_unit_test(test_kinds_of_signal), cmocka_unit_test(test_members),
        cmocka_unit_test(test_columns),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
