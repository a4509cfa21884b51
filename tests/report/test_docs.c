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
        cmocka_unit_test(test_keys_and_flags),
        cmocka_unit_test(test_members),
        cmocka_unit_test(test_columns),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
