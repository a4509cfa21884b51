/* A ledger of an older version, made by a frozen script, is brought up to date with nothing lost; and what is not quite
 * a ledger is not. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>
#include <math.h>
#include <sqlite3.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "ledger/jobs.h"

struct place {
    char *folder, *path;
};

static void run(const char *path, const char *sql)
{
    sqlite3 *db;
    char *message = NULL;
    assert_int_equal(sqlite3_open(path, &db), SQLITE_OK);
    if (sqlite3_exec(db, sql, NULL, NULL, &message) != SQLITE_OK)
        fail_msg("%s", message);
    sqlite3_close(db);
}

static void make_version_1(const char *path)
{
    const char *folder = getenv("TESTDATA");
    assert_non_null(folder);
    char *script = path_in(folder, "ledger-version-1.sql"), sql[65536];
    FILE *in = fopen(script, "r");
    if (!in)
        fail_msg("no %s", script);
    size_t got = fread(sql, 1, sizeof sql - 1, in);
    assert_true(got > 1000 && got < sizeof sql - 1);
    sql[got] = '\0';
    fclose(in);
    free(script);
    unlink(path);
    run(path, sql);
}

static int set_up(void **state)
{
    struct place *place = malloc(sizeof *place);
    place->folder = ledger_folder();
    place->path = path_in(place->folder, "old.ledger");
    make_version_1(place->path);
    *state = place;
    return 0;
}

static int tear_down(void **state)
{
    struct place *place = *state;
    remove_folder(place->folder);
    free(place->path);
    free(place);
    return 0;
}

/* What version 1 kept, row for row, with reals to the bit. */
static char *rows_of_version_1(const char *path)
{
    static const char *const queries[] = {
        "SELECT * FROM unit ORDER BY id", "SELECT * FROM job ORDER BY id",
        ("SELECT id, job_id, place, name, file, sha256, role, side, power_w, channel, repeat, note, seconds, rate_hz "
         "FROM capture ORDER BY id"),
        "SELECT * FROM figure ORDER BY capture_id, channel, other, place"};
    char *text = NULL;
    size_t size;
    FILE *out = open_memstream(&text, &size);
    sqlite3 *db;
    assert_int_equal(sqlite3_open_v2(path, &db, SQLITE_OPEN_READONLY, NULL), SQLITE_OK);
    for (size_t i = 0; i < sizeof queries / sizeof queries[0]; i++) {
        sqlite3_stmt *row;
        assert_int_equal(sqlite3_prepare_v2(db, queries[i], -1, &row, NULL), SQLITE_OK);
        while (sqlite3_step(row) == SQLITE_ROW)
            for (int c = 0; c < sqlite3_column_count(row); c++)
                if (sqlite3_column_type(row, c) == SQLITE_FLOAT)
                    fprintf(out, "%a|", sqlite3_column_double(row, c));
                else
                    fprintf(out, "%s|", sqlite3_column_text(row, c) ? (const char *)sqlite3_column_text(row, c) : "-");
        sqlite3_finalize(row);
    }
    sqlite3_close(db);
    fclose(out);
    return text;
}

static int version_of(const char *path)
{
    unsigned char header[100];
    FILE *in = fopen(path, "rb");
    assert_non_null(in);
    assert_int_equal(fread(header, 1, sizeof header, in), sizeof header);
    fclose(in);
    return header[63];
}

static bool add(const char *path, const char *date)
{
    struct made_job made;
    struct lds_error error = {0};
    bool added;
    make_job(&made, "0042", date, 0.0);
    if (lds_ledger_add_job(path, &made.job, &added, &error) != LDS_OK)
        fail_msg("%s", error.message);
    free_job(&made);
    return added;
}

static void test_reading_leaves_it(void **state)
{
    const struct place *place = *state;
    char before[65], after[65];
    file_sum(place->path, before);
    struct lds_error error = {0};
    char *text = read_all_of(place->path, &error);
    if (!text)
        fail_msg("%s", error.message);
    assert_non_null(strstr(text, "unit 2 [Thistlecote][Sedge 25][0042][2019-03-02][2021-05-09]"));
    assert_non_null(strstr(text, "[it's 10 % quieter; \"really\"]"));
    file_sum(place->path, after);
    assert_string_equal(before, after);
    assert_int_equal(version_of(place->path), 1);

    /* Brought up to date it answers the same. */
    struct lds_ledger *ledger;
    assert_int_equal(lds_ledger_open(place->path, 0, &ledger, NULL), LDS_OK);
    lds_ledger_close(ledger);
    assert_int_equal(version_of(place->path), 2);
    char *now = read_all_of(place->path, NULL);
    assert_string_equal(now, text);
    free(now);
    free(text);
}

static void test_nothing_lost(void **state)
{
    const struct place *place = *state;
    char *before = rows_of_version_1(place->path);
    struct lds_ledger *ledger;
    assert_int_equal(lds_ledger_open(place->path, 0, &ledger, NULL), LDS_OK);
    lds_ledger_close(ledger);
    char *after = rows_of_version_1(place->path);
    assert_int_equal(version_of(place->path), 2);
    assert_true(strlen(before) > 2000);
    assert_string_equal(before, after);
    assert_true(add(place->path, "2024-06-11"));
    assert_false(add(place->path, "2024-06-11"));
    char *text = read_all_of(place->path, NULL);
    assert_non_null(strstr(text, "unit 3 [Thistlecote][Sedge 25][0042][2019-03-02][2024-06-11]"));
    free(text);
    free(before);
    free(after);
}

static void bring_up_to_date(const void *path)
{
    struct lds_ledger *ledger;
    if (lds_ledger_open(path, 0, &ledger, NULL) != LDS_OK)
        _exit(1);
}

static void test_killed_on_the_way(void **state)
{
    const struct place *place = *state;
    char *before = rows_of_version_1(place->path);
    char *text = read_all_of(place->path, NULL);
    int old = 0, new = 0;
    long takes_ns = 0;
    srand(1);
    for (int i = 0; i < 100; i++) {
        make_version_1(place->path);
        run_and_kill(bring_up_to_date, place->path, &takes_ns);
        struct lds_error error = {0};
        char *now = read_all_of(place->path, &error);
        if (!now)
            fail_msg("kill %d: %s", i, error.message);
        assert_string_equal(now, text);
        *(version_of(place->path) == 1 ? &old : &new) += 1;
        free(now);
        now = rows_of_version_1(place->path);
        assert_string_equal(now, before);
        free(now);
    }
    print_message("killed: %d times before the new version was in, %d after\n", old, new);
    assert_true(old > 0 && new > 0);
    free(before);
    free(text);
}

/* Whatever another program does to the rows or tables of either version is refused, and left. */
static void test_changed_by_others(void **state)
{
    const struct place *place = *state;
    static const char *const changes[] = {
        "UPDATE figure SET value = -100 WHERE key = 'thd'",
        "UPDATE figure SET flags = NULL",
        "UPDATE unit SET serial = '0043' WHERE serial = '0042'",
        "UPDATE job SET date = '2018-01-01' WHERE id = 2",
        "UPDATE capture SET side = 'before'",
        "DELETE FROM figure WHERE key = 'crosstalk' AND capture_id = 3",
        "DELETE FROM capture WHERE id = 1",
        "CREATE TRIGGER t AFTER INSERT ON job BEGIN DELETE FROM figure; END",
        "CREATE VIEW v AS SELECT * FROM job",
        "CREATE TABLE notes (text)",
        "DROP INDEX job_of_unit",
        "ALTER TABLE job RENAME COLUMN work TO job_work",
    };
    for (size_t i = 0; i < 2 * (sizeof changes / sizeof changes[0]); i++) {
        char before[65], after[65];
        struct lds_error error = {0};
        struct lds_ledger *ledger;
        make_version_1(place->path);
        if (i % 2) { /* of the version of today */
            assert_int_equal(lds_ledger_open(place->path, 0, &ledger, NULL), LDS_OK);
            lds_ledger_close(ledger);
        }
        run(place->path, changes[i / 2]);
        file_sum(place->path, before);
        for (unsigned flags = 0; flags < 3; flags++) {
            enum lds_status status = lds_ledger_open(place->path, flags, &ledger, &error);
            if (status != LDS_BAD_INPUT || !strstr(error.message, "damaged"))
                fail_msg("%s: status %d, %s", changes[i / 2], status, error.message);
        }
        file_sum(place->path, after);
        assert_string_equal(before, after);
    }
}

int main(void)
{
#define TEST(function) cmocka_unit_test_setup_teardown(function, set_up, tear_down)
    const struct CMUnitTest tests[] = {TEST(test_reading_leaves_it), TEST(test_nothing_lost),
                                       TEST(test_killed_on_the_way), TEST(test_changed_by_others)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
