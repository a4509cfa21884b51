/* A figure made from several captures: it stands in the first of them, and every output says from which it was made. */
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

#include "loadside/loadside.h"
#include "record/record.h"
#include "report/sample.h"

enum { CAPTURES = 4 };
static const char KEY[] = "thd";
static const double VALUE = -87.25, HALF = 0.125, U_A = 0.0625;

/* Adds a figure to the second capture that is made from it, the third and the fourth. */
static void make(struct lds_measurement m[CAPTURES], const int *other, size_t others)
{
    static const char *const files[CAPTURES] = {"a.wav", "b.wav", "c.wav", "d.wav"};
    for (size_t i = 0; i < CAPTURES; i++)
        m[i] = sample_measurement(files[i], true);
    struct lds_figure *figure = (struct lds_figure *)(uintptr_t)lds_channel_figure(&m[1].channel[0], KEY);
    assert_non_null(figure);
    figure->value = VALUE;
    figure->low = VALUE - HALF;
    figure->high = VALUE + HALF;
    figure->u_a = U_A;
    figure->dof = INFINITY;
    figure->flags = 0;
    assert_true(lds_figure_over(figure, other, others));
}

static void drop(struct lds_measurement *m, size_t count)
{
    for (size_t i = 0; i < count; i++)
        lds_measurement_free(&m[i]);
}

static char *place(const char *folder, const char *name)
{
    char *path = NULL;
    assert_true(asprintf(&path, "%s/%s", folder, name) > 0);
    return path;
}

static json_t *figure_of(json_t *root, size_t capture, size_t channel)
{
    json_t *one = json_array_get(json_object_get(root, "captures"), capture);
    one = json_array_get(json_object_get(one, "channels"), channel);
    return json_object_get(json_object_get(one, "figures"), KEY);
}

static void check_figure(const struct lds_figure *figure)
{
    assert_true(figure->value == VALUE && figure->low == VALUE - HALF && figure->high == VALUE + HALF);
    assert_true(figure->u_a == U_A);
    assert_int_equal(figure->others, 2);
    assert_true(figure->other[0] == 1 && figure->other[1] == 2);
}

static void test_json(void **state)
{
    (void)state;
    char *folder = new_folder(), *path[2] = {place(folder, "a.json"), place(folder, "b.json")};
    struct lds_measurement m[CAPTURES], *again;
    struct lds_error error = {0};
    size_t count;
    make(m, (const int[]){1, 2}, 2);
    assert_int_equal(lds_report_json(m, CAPTURES, path[0], &error), LDS_OK);
    json_t *root = json_load_file(path[0], 0, NULL), *list = json_object_get(figure_of(root, 1, 0), "captures");
    assert_int_equal(json_array_size(list), 3);
    for (size_t i = 0; i < 3; i++)
        assert_int_equal(json_integer_value(json_array_get(list, i)), i + 1);
    for (size_t i = 0; i < CAPTURES; i++)
        for (size_t c = 0; c < 2; c++)
            assert_true((i == 1 && c == 0) == (json_object_get(figure_of(root, i, c), "captures") != NULL));
    if (lds_saved_read(path[0], &again, &count, &error) != LDS_OK)
        fail_msg("%s", error.message);
    check_figure(lds_channel_figure(&again[1].channel[0], KEY));
    assert_int_equal(lds_report_json(again, count, path[1], &error), LDS_OK);
    json_t *other = json_load_file(path[1], 0, NULL);
    assert_true(json_equal(root, other));
    json_decref(other);
    /* In another list the captures have other places, and the figure still names the same ones. */
    struct lds_measurement both[2 * CAPTURES];
    memcpy(both, m, sizeof m);
    memcpy(both + CAPTURES, again, count * sizeof *again);
    assert_int_equal(lds_report_json(both, 2 * CAPTURES, path[1], &error), LDS_OK);
    other = json_load_file(path[1], 0, NULL);
    list = json_object_get(figure_of(other, CAPTURES + 1, 0), "captures");
    for (size_t i = 0; i < 3; i++)
        assert_int_equal(json_integer_value(json_array_get(list, i)), CAPTURES + i + 1);
    json_decref(other);
    json_decref(root);
    drop(again, count);
    free(again);
    drop(m, CAPTURES);
    for (int i = 0; i < 2; i++) {
        unlink(path[i]);
        free(path[i]);
    }
    rmdir(folder);
    free(folder);
}

static void test_damaged(void **state)
{
    (void)state;
    static const char *const lists[] = {"[]",        "[1]",      "[0, 1]",     "[1, 1]",   "[1, 3, 2]",
                                        "[1, 2, 4]", "[1, 2.5]", "[1, null]",  "[2, 3]",   "{}",
                                        "[1, 0]",    "[-1, 2]",  "[1, \"2\"]", "[1, 2, 2]"};
    char *folder = new_folder(), *path = place(folder, "a.json");
    struct lds_measurement m[CAPTURES], *read;
    struct lds_error error;
    size_t count;
    make(m, (const int[]){1, 2}, 2);
    for (size_t i = 0; i < sizeof lists / sizeof *lists; i++) {
        assert_int_equal(lds_report_json(m, CAPTURES, path, &error), LDS_OK);
        json_t *root = json_load_file(path, 0, NULL);
        json_object_set_new(figure_of(root, 1, 0), "captures", json_loads(lists[i], 0, NULL));
        assert_int_equal(json_dump_file(root, path, 0), 0);
        json_decref(root);
        if (lds_saved_read(path, &read, &count, &error) != LDS_BAD_INPUT ||
            !strstr(error.message, "captures[1].channels[0].figures.thd.captures is not "))
            fail_msg("%s: %s", lists[i], error.message);
    }
    drop(m, CAPTURES);
    unlink(path);
    free(path);
    rmdir(folder);
    free(folder);
}

static void check_has(const char *text, const char *part, bool has)
{
    if ((strstr(text, part) != NULL) != has)
        fail_msg("\"%s\"%s in:\n%s", part, has ? " is not" : "", text);
}

static void test_csv_and_text(void **state)
{
    (void)state;
    char *folder = new_folder(), *path = place(folder, "a.csv"), *text = NULL;
    struct lds_measurement m[CAPTURES];
    struct lds_error error;
    size_t size;
    make(m, (const int[]){1, 2}, 2);
    assert_int_equal(lds_report_csv(m, CAPTURES, path, &error), LDS_OK);
    char *csv = read_all(path);
    check_has(csv, "\r\nb.wav; c.wav; d.wav,1,thd,THD,-87.25,dB,-87.375,-87.125,0.0625,", true);
    check_has(csv, "\r\nb.wav,1,thd,", false);
    check_has(csv, "\r\nb.wav,2,thd,", true);
    assert_int_equal(lds_report_csv(m, 3, path, &error), LDS_OK); /* the last of its captures is not in this list */
    free(csv);
    csv = read_all(path);
    check_has(csv, "\r\nb.wav; c.wav,1,thd,", true);
    FILE *out = open_memstream(&text, &size);
    assert_int_equal(lds_report_text(m, CAPTURES, out, &error), LDS_OK);
    fclose(out);
    char *said = strstr(text, "made from 3 captures");
    assert_non_null(said);
    assert_null(strstr(said + 1, "made from"));
    drop(m, CAPTURES);
    free(text);
    free(csv);
    unlink(path);
    free(path);
    rmdir(folder);
    free(folder);
}

/* The page of a job says it below the figure, as the text does: both ask lds_figure_conditions. A comparison takes it
 * for a figure of its own side. */
static void test_compared(void **state)
{
    (void)state;
    struct lds_measurement b[CAPTURES], a[CAPTURES];
    struct lds_compare_options options;
    struct lds_comparison c;
    struct lds_error error;
    make(b, (const int[]){1, 2}, 2);
    make(a, (const int[]){1, 2}, 2);
    ((struct lds_figure *)(uintptr_t)lds_channel_figure(&a[1].channel[0], KEY))->value += 3.0;
    lds_compare_options_init(&options);
    if (lds_compare((struct lds_side){&b[1], 1}, (struct lds_side){&a[1], 1}, &options, &c, &error) != LDS_OK)
        fail_msg("%s", error.message);
    const struct lds_change *change = NULL;
    for (size_t i = 0; i < c.channel[0].changes; i++)
        if (strcmp(c.channel[0].change[i].key, KEY) == 0)
            change = &c.channel[0].change[i];
    assert_non_null(change);
    assert_true(fabs(change->change - 3.0) < 1e-9 && change->low < 3.0 && change->high > 3.0);
    lds_comparison_free(&c);
    drop(a, CAPTURES);
    drop(b, CAPTURES);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_json), cmocka_unit_test(test_damaged),
                                       cmocka_unit_test(test_csv_and_text), cmocka_unit_test(test_compared)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
