/* Ledgers of older versions, made by frozen scripts, are updated without loss; and what is not quite a ledger is
 * refused. */
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

#include "ledger/digest.h"
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

enum { TODAY = 5 };

static void make_version(const char *path, int version)
{
    const char *folder = getenv("TESTDATA");
    assert_non_null(folder);
    char name[32], sql[65536];
    snprintf(name, sizeof name, "ledger-version-%d.sql", version);
    char *script = path_in(folder, name);
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
    make_version(place->path, 1);
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

/* Everything that this version stored, row by row, with reals to the bit. */
static char *rows_of(const char *path, int version)
{
    static const char *const queries[] = {
        "SELECT * FROM unit ORDER BY id",
        "SELECT * FROM job ORDER BY id",
        ("SELECT id, job_id, place, name, file, sha256, role, side, power_w, channel, repeat, note, seconds, rate_hz "
         "FROM capture ORDER BY id"),
        "SELECT * FROM figure ORDER BY capture_id, channel, other, place",
        "SELECT id, load_ohm FROM capture ORDER BY id",
        "SELECT * FROM part ORDER BY job_id, place",
        "SELECT id, tone_hz FROM capture ORDER BY id"};
    static const size_t counts[] = {[1] = 4, [2] = 6, [3] = 7, [4] = 7};
    char *text = NULL;
    size_t size;
    FILE *out = open_memstream(&text, &size);
    sqlite3 *db;
    assert_int_equal(sqlite3_open_v2(path, &db, SQLITE_OPEN_READONLY, NULL), SQLITE_OK);
    for (size_t i = 0; i < counts[version]; i++) {
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

    /* Updated, it gives the same answers. */
    struct lds_ledger *ledger;
    assert_int_equal(lds_ledger_open(place->path, 0, &ledger, NULL), LDS_OK);
    lds_ledger_close(ledger);
    assert_int_equal(version_of(place->path), TODAY);
    char *now = read_all_of(place->path, NULL);
    assert_string_equal(now, text);
    free(now);
    free(text);
}

static void test_nothing_lost(void **state)
{
    const struct place *place = *state;
    for (int version = 1; version < TODAY; version++) {
        make_version(place->path, version);
        assert_int_equal(version_of(place->path), version);
        char *before = rows_of(place->path, version);
        struct lds_ledger *ledger;
        assert_int_equal(lds_ledger_open(place->path, 0, &ledger, NULL), LDS_OK);
        lds_ledger_close(ledger);
        char *after = rows_of(place->path, version);
        assert_int_equal(version_of(place->path), TODAY);
        assert_true(strlen(before) > 2000);
        assert_string_equal(before, after);
        assert_true(add(place->path, "2024-06-11"));
        assert_false(add(place->path, "2024-06-11"));
        char *text = read_all_of(place->path, NULL);
        assert_non_null(strstr(text, version == 1 ? "unit 3 [Thistlecote][Sedge 25][0042][2019-03-02][2024-06-11]"
                                                  : "unit 3 [Thistlecote][Sedge 25][0042][2022-03-02][2024-06-11]"));
        free(text);
        free(before);
        free(after);
    }
}

static const struct lds_ledger_series *find(const struct lds_ledger_history *history, const char *key, double tone_hz)
{
    for (size_t i = 0; i < history->series; i++)
        if (strcmp(history->serie[i].key, key) == 0 && fabs(history->serie[i].tone_hz - tone_hz) < 1.0)
            return &history->serie[i];
    fail_msg("no %s at %g Hz", key, tone_hz);
    return NULL;
}

/* Version 2 stored a capture of another tone as a repeat, without its tone; the figures of the driven channel tell the
 * tone. Version 3 stored the tone. Each gives the same answers, read as it is or after an update. */
static void test_tones_of_older(void **state)
{
    const struct place *place = *state;
    for (unsigned pass = 0; pass < 4; pass++) {
        int version = pass < 2 ? 2 : 3;
        if (pass % 2 == 0)
            make_version(place->path, version);
        struct lds_ledger *ledger;
        struct lds_ledger_unit *unit;
        struct lds_ledger_history history;
        size_t units;
        assert_int_equal(lds_ledger_open(place->path, pass % 2 ? 0 : LDS_LEDGER_READ_ONLY, &ledger, NULL), LDS_OK);
        assert_int_equal(version_of(place->path), pass % 2 ? TODAY : version);
        assert_int_equal(lds_ledger_units(ledger, &unit, &units, NULL), LDS_OK);
        assert_int_equal(lds_ledger_history(ledger, &unit[0], &history, NULL), LDS_OK);
        for (int six = 0; six < 2; six++) {
            const struct lds_ledger_series *thd = find(&history, "thd", six ? 6000.0 : 1000.0);
            assert_int_equal(thd->points, 2);
            for (size_t i = 0; i < 2; i++) {
                assert_int_equal(thd->point[i].captures, 1);
                assert_true(thd->point[i].value == (six ? -60.5 : -90.5) - 1.5 * (double)i);
                assert_true(thd->point[i].low == thd->point[i].value - 0.2);
                assert_true(thd->point[i].high == thd->point[i].value + 0.2);
            }
            assert_int_equal(thd->standing.units, 2);
        }
        lds_ledger_history_free(&history);
        lds_ledger_units_free(unit, units);
        lds_ledger_close(ledger);
    }
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
    char *before = rows_of(place->path, 1);
    char *text = read_all_of(place->path, NULL);
    int old = 0, new = 0;
    long takes_ns = 0;
    srand(1);
    for (int i = 0; i < 100; i++) {
        make_version(place->path, 1);
        run_and_kill(bring_up_to_date, place->path, &takes_ns);
        struct lds_error error = {0};
        char *now = read_all_of(place->path, &error);
        if (!now)
            fail_msg("kill %d: %s", i, error.message);
        assert_string_equal(now, text);
        *(version_of(place->path) == 1 ? &old : &new) += 1;
        free(now);
        now = rows_of(place->path, 1);
        assert_string_equal(now, before);
        free(now);
    }
    print_message("killed: %d times before the new version was in, %d after\n", old, new);
    assert_true(old > 0 && new > 0);
    free(before);
    free(text);
}

/* A newer program of the same version may know more roles. */
static void test_role_of_a_newer_program(void **state)
{
    const struct place *place = *state;
    char digest[65], before[65], after[65], sql[160];
    struct lds_ledger *ledger;
    struct lds_error error = {0};
    make_version(place->path, 3);
    assert_int_equal(lds_ledger_open(place->path, 0, &ledger, NULL), LDS_OK);
    lds_ledger_close(ledger);
    run(place->path, "UPDATE capture SET role = 'two-tone' WHERE id = 3");
    assert_int_equal(lds_ledger_open(place->path, 0, &ledger, &error), LDS_BAD_INPUT);
    assert_non_null(strstr(error.message, "damaged")); /* the sum over the rows is another */
    struct lds_ledger bare = {.path = place->path, .error = &error};
    assert_int_equal(sqlite3_open(place->path, &bare.db), SQLITE_OK);
    lds_digest_rows(&bare, TODAY, 1, digest);
    assert_int_equal(bare.status, LDS_OK);
    sqlite3_close(bare.db);
    snprintf(sql, sizeof sql, "UPDATE job SET digest = '%s' WHERE id = 1", digest);
    run(place->path, sql);
    file_sum(place->path, before);
    for (unsigned flags = 0; flags < 3; flags++) {
        assert_int_equal(lds_ledger_open(place->path, flags, &ledger, &error), LDS_BAD_INPUT);
        assert_non_null(strstr(error.message, "old.ledger: holds a capture of the role 'two-tone', and this program "
                                              "does not know that role: use the newer program"));
    }
    file_sum(place->path, after);
    assert_string_equal(before, after);
}

/* Whatever another program does to the rows or tables of either version, the ledger is refused and not touched. */
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
        make_version(place->path, 1);
        if (i % 2) { /* of the current version */
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
                                       TEST(test_tones_of_older),    TEST(test_role_of_a_newer_program),
                                       TEST(test_killed_on_the_way), TEST(test_changed_by_others)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
