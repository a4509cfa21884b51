/* Several writers at once, and writers that are interrupted. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>
#include <signal.h>
#include <sqlite3.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

#include "ledger/jobs.h"

enum { WRITERS = 4, EACH = 10, SEED = 20240611 };

struct place {
    char *folder, *path;
};

static int set_up(void **state)
{
    struct place *place = malloc(sizeof *place);
    place->folder = ledger_folder();
    place->path = path_in(place->folder, "a.ledger");
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

static enum lds_status add(const char *path, const char *serial, const char *date, bool *added, struct lds_error *error)
{
    struct made_job made;
    make_job(&made, serial, date, 0.0);
    enum lds_status status = lds_ledger_add_job(path, &made.job, added, error);
    free_job(&made);
    return status;
}

/* A writer's jobs: some of its own unit, some of one unit that all share, and one that all try to add. */
static int write_jobs(const char *path, int writer)
{
    int own = 0;
    for (int i = 0; i < EACH; i++) {
        char serial[32], date[32];
        bool added = false;
        struct lds_error error = {0};
        snprintf(serial, sizeof serial, i % 2 ? "own %d" : "shared", writer);
        snprintf(date, sizeof date, "20%02d-%02d-01", 10 + i, writer + 1);
        if (add(path, serial, date, &added, &error) != LDS_OK || !added) {
            fprintf(stderr, "writer %d: %s\n", writer, error.message);
            return 100;
        }
        if (add(path, "contested", "2020-01-01", &added, &error) != LDS_OK)
            return 101;
        own += added;
    }
    return own;
}

static void test_writers_at_once(void **state)
{
    const struct place *place = *state;
    pid_t child[WRITERS];
    int contested = 0;
    for (int i = 0; i < WRITERS; i++) {
        child[i] = fork();
        assert_true(child[i] >= 0);
        if (child[i] == 0)
            _exit(write_jobs(place->path, i));
    }
    for (int i = 0; i < WRITERS; i++) {
        int state_of = 0;
        assert_int_equal(waitpid(child[i], &state_of, 0), child[i]);
        assert_true(WIFEXITED(state_of) && WEXITSTATUS(state_of) < 100);
        contested += WEXITSTATUS(state_of);
    }
    assert_int_equal(contested, 1);
    struct lds_ledger *ledger;
    struct lds_ledger_unit *unit;
    size_t units, jobs = 0;
    assert_int_equal(lds_ledger_open(place->path, LDS_LEDGER_READ_ONLY, &ledger, NULL), LDS_OK);
    assert_int_equal(lds_ledger_units(ledger, &unit, &units, NULL), LDS_OK);
    assert_int_equal(units, WRITERS + 2);
    for (size_t i = 0; i < units; i++) {
        size_t wanted = strcmp(unit[i].serial, "shared") == 0      ? WRITERS * EACH / 2
                        : strcmp(unit[i].serial, "contested") == 0 ? 1
                                                                   : EACH / 2;
        assert_int_equal(unit[i].jobs, wanted);
        jobs += unit[i].jobs;
    }
    assert_int_equal(jobs, WRITERS * EACH + 1);
    lds_ledger_units_free(unit, units);
    lds_ledger_close(ledger);
}

struct task {
    const char *path, *serial, *date;
};

static void add_task(const void *context)
{
    const struct task *task = context;
    bool added;
    if (add(task->path, task->serial, task->date, &added, NULL) != LDS_OK)
        _exit(1);
}

/* A child adds a job and is killed after some time. Whatever the moment, the contents are as before, or include the
 * whole job. At least one kill must have come before the job was added and one after it, or the kills missed the
 * interesting moments. */
static void test_killed(void **state)
{
    const struct place *place = *state;
    bool added;
    int before = 0, after = 0, journals = 0;
    long takes_ns = 0;
    char *journal = path_in(place->folder, "a.ledger-journal");
    assert_int_equal(add(place->path, "0042", "2019-03-02", &added, NULL), LDS_OK);
    char *text = read_all_of(place->path, NULL);
    srand(SEED);
    for (int i = 0; i < 150; i++) {
        char date[32];
        snprintf(date, sizeof date, "%04d-01-01", 2000 + i);
        run_and_kill(add_task, &(struct task){place->path, "0043", date}, &takes_ns);
        struct stat info;
        journals += stat(journal, &info) == 0 && info.st_size > 0;
        struct lds_error error = {0};
        char *now = read_all_of(place->path, &error);
        if (!now)
            fail_msg("seed %d, kill %d: %s", SEED, i, error.message);
        bool same = strcmp(now, text) == 0;
        before += same;
        after += !same;
        if (!same) { /* then the whole job is there: adding it again adds nothing */
            assert_int_equal(add(place->path, "0043", date, &added, NULL), LDS_OK);
            assert_false(added);
            free(text);
            text = strdup(now);
        }
        free(now);
    }
    print_message("killed: %d times before the job was in, %d after; %d left a journal\n", before, after, journals);
    assert_true(before > 0 && after > 0);
    free(text);
    free(journal);
}

/* The very first write, interrupted: no ledger, or one that can be continued. */
static void test_killed_at_first(void **state)
{
    const struct place *place = *state;
    long takes_ns = 0;
    srand(SEED);
    for (int i = 0; i < 60; i++) {
        bool added;
        run_and_kill(add_task, &(struct task){place->path, "0042", "2019-03-02"}, &takes_ns);
        struct lds_error error = {0};
        if (add(place->path, "0042", "2019-03-02", &added, &error) != LDS_OK)
            fail_msg("seed %d, kill %d: %s", SEED, i, error.message);
        char *text = read_all_of(place->path, NULL);
        assert_non_null(text);
        free(text);
        unlink(place->path);
    }
}

/* SQLite's own rollback journal as an interrupted write leaves it: the reader rolls back although it opened for
 * reading. */
static void test_hot_journal(void **state)
{
    const struct place *place = *state;
    bool added;
    assert_int_equal(add(place->path, "0042", "2019-03-02", &added, NULL), LDS_OK);
    char *text = read_all_of(place->path, NULL);
    pid_t child = fork();
    assert_true(child >= 0);
    if (child == 0) {
        sqlite3 *db;
        /* With a cache of one page SQLite writes to the file before the commit. */
        sqlite3_open(place->path, &db);
        sqlite3_exec(db,
                     "PRAGMA cache_size = 1; BEGIN; UPDATE figure SET value = 0; UPDATE capture SET seconds = 0;"
                     "INSERT INTO part SELECT 1, 100 + value, hex(randomblob(3000)), NULL, NULL FROM "
                     "(WITH RECURSIVE n(value) AS (SELECT 1 UNION ALL SELECT value + 1 FROM n LIMIT 100) "
                     "SELECT value FROM n)",
                     NULL, NULL, NULL);
        kill(getpid(), SIGKILL);
    }
    waitpid(child, NULL, 0);
    char *journal = path_in(place->folder, "a.ledger-journal");
    struct stat info;
    assert_int_equal(stat(journal, &info), 0);
    assert_true(info.st_size > 512);
    struct lds_error error = {0};
    char *now = read_all_of(place->path, &error);
    if (!now)
        fail_msg("%s", error.message);
    assert_string_equal(now, text);
    free(now);
    free(text);
    free(journal);
}

/* A disk that is full after so many bytes, for many numbers: an error, and the ledger is unchanged byte for byte. */
static void test_full_disk(void **state)
{
    const struct place *place = *state;
    bool added;
    int full = 0, through = 0;
    char before[65], after[65];
    struct rlimit unlimited;
    struct stat info;
    signal(SIGXFSZ, SIG_IGN);
    assert_int_equal(add(place->path, "0042", "2019-03-02", &added, NULL), LDS_OK);
    assert_int_equal(stat(place->path, &info), 0);
    assert_int_equal(getrlimit(RLIMIT_FSIZE, &unlimited), 0);
    file_sum(place->path, before);
    for (rlim_t bytes = 0; through == 0; bytes += 1000) {
        struct rlimit limit = {.rlim_cur = bytes, .rlim_max = unlimited.rlim_max};
        struct lds_error error = {0};
        assert_true(bytes < 10 * (rlim_t)info.st_size);
        assert_int_equal(setrlimit(RLIMIT_FSIZE, &limit), 0);
        enum lds_status status = add(place->path, "0043", "2019-03-02", &added, &error);
        assert_int_equal(setrlimit(RLIMIT_FSIZE, &unlimited), 0);
        if (status == LDS_OK) {
            through++;
            assert_true(added);
            continue;
        }
        full++;
        assert_int_equal(status, LDS_IO);
        assert_false(added);
        assert_non_null(strstr(error.message, "free some space"));
        file_sum(place->path, after);
        assert_string_equal(before, after);
    }
    print_message("%d sizes were too small\n", full);
    assert_true(full > 5);
}

/* Another program holds the ledger: an error after the wait, or success if it releases it in time. */
static void test_waits(void **state)
{
    const struct place *place = *state;
    bool added;
    assert_int_equal(add(place->path, "0042", "2019-03-02", &added, NULL), LDS_OK);
    pid_t child = fork();
    assert_true(child >= 0);
    if (child == 0) {
        sqlite3 *db;
        sqlite3_open(place->path, &db);
        if (sqlite3_exec(db, "BEGIN EXCLUSIVE", NULL, NULL, NULL) != SQLITE_OK)
            _exit(1);
        sleep(2);
        sqlite3_exec(db, "COMMIT", NULL, NULL, NULL);
        _exit(0);
    }
    struct timespec wait = {.tv_nsec = 300000000};
    nanosleep(&wait, NULL);
    time_t began = time(NULL);
    assert_int_equal(add(place->path, "0043", "2019-03-02", &added, NULL), LDS_OK);
    assert_true(added);
    assert_true(time(NULL) - began >= 1);
    int state_of;
    waitpid(child, &state_of, 0);
    assert_true(WIFEXITED(state_of) && WEXITSTATUS(state_of) == 0);
}

int main(void)
{
#define TEST(function) cmocka_unit_test_setup_teardown(function, set_up, tear_down)
    const struct CMUnitTest tests[] = {TEST(test_writers_at_once), TEST(test_killed),    TEST(test_killed_at_first),
                                       TEST(test_hot_journal),     TEST(test_full_disk), TEST(test_waits)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
