/* Opens a ledger: checks what the file is and whether it is complete, and updates an older version. */
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "fail.h"
#include "ledger/digest.h"
#include "ledger/schema.h"

/* SQLite does not take ":memory:" and "file:..." as the names of files. */
static char *plain_path(const char *path)
{
    char *plain = NULL;
    return asprintf(&plain, "%s%s", path[0] == '/' ? "" : "./", path) < 0 ? NULL : plain;
}

/* The ledger uses a rollback journal, SQLite's default: unlike the write-ahead log it needs no shared memory, so a
 * ledger can be on a network share or a read-only disk, and when not in use it is a single file that can be copied.
 * Writers are rare and brief. EXTRA syncs the folder as well, so that a commit survives a power cut. */
static void prepare(struct lds_ledger *ledger)
{
    sqlite3_extended_result_codes(ledger->db, 1);
    sqlite3_busy_timeout(ledger->db, LDS_LEDGER_WAIT_MS);
    /* A foreign file must not make SQLite run anything; see "Defense Against The Dark Arts", sqlite.org. */
    (void)sqlite3_db_config(ledger->db, SQLITE_DBCONFIG_DEFENSIVE, 1, NULL);
    (void)sqlite3_db_config(ledger->db, SQLITE_DBCONFIG_TRUSTED_SCHEMA, 0, NULL);
    lds_sql_run(ledger, "PRAGMA foreign_keys = ON; PRAGMA cell_size_check = ON; PRAGMA synchronous = EXTRA; "
                        "PRAGMA temp_store = MEMORY");
}

static void open_file(struct lds_ledger *ledger, int flags)
{
    char *path = plain_path(ledger->path);
    if (!path) {
        lds_sql_no_memory(ledger);
        return;
    }
    if (sqlite3_open_v2(path, &ledger->db, flags | SQLITE_OPEN_FULLMUTEX, NULL) == SQLITE_OK)
        prepare(ledger);
    else
        lds_sql_fail(ledger);
    free(path);
    if (!ledger->status && (flags & SQLITE_OPEN_READWRITE) && sqlite3_db_readonly(ledger->db, "main") == 1)
        ledger->status = lds_fail(
            ledger->error, LDS_IO,
            "%s: the ledger cannot be written: give yourself permission to write it, or name another", ledger->path);
}

/* "ok", or the first thing that is wrong. */
static void take_answer(void *unused, struct lds_ledger *ledger, sqlite3_stmt *row)
{
    const char *answer = (const char *)sqlite3_column_text(row, 0);
    char how[160];
    (void)unused;
    if (answer && strcmp(answer, "ok") == 0)
        return;
    snprintf(how, sizeof how, "%s", answer ? answer : "no answer");
    for (char *c = how; *c; c++)
        *c = *c == '\n' ? ' ' : *c;
    lds_ledger_damaged(ledger, how);
}

static void take_orphan(void *unused, struct lds_ledger *ledger, sqlite3_stmt *row)
{
    (void)unused;
    (void)row;
    lds_ledger_damaged(ledger, "rows without what they belong to");
}

static void take_role(void *unused, struct lds_ledger *ledger, sqlite3_stmt *row)
{
    const char *name = (const char *)sqlite3_column_text(row, 0);
    (void)unused;
    if (!name || !lds_role_find(name))
        ledger->status = lds_fail(ledger->error, LDS_BAD_INPUT,
                                  "%s: holds a capture of the role '%.40s', and this program does not know that role: "
                                  "use the newer program that added it",
                                  ledger->path, name ? name : "");
}

/* Checks pages, references between rows, the sums of the rows, and then the roles: a newer program of the same version
 * may have more of them. */
static void check_rows(struct lds_ledger *ledger, int version)
{
    lds_sql_each(ledger, "PRAGMA integrity_check(1)", take_answer, NULL, "");
    lds_sql_each(ledger, "PRAGMA foreign_key_check", take_orphan, NULL, "");
    lds_schema_check(ledger, version);
    lds_digest_check(ledger, version);
    lds_sql_each(ledger, "SELECT DISTINCT role FROM capture", take_role, NULL, "");
}

/* Within a transaction. Returns the version; 0: the file is still empty. */
static int check_whole(struct lds_ledger *ledger)
{
    int64_t id = lds_sql_number(ledger, "PRAGMA application_id", "");
    int64_t version = lds_sql_number(ledger, "PRAGMA user_version", "");
    int64_t tables = lds_sql_number(ledger, "SELECT count(*) FROM sqlite_schema", "");
    if (ledger->status || (id == 0 && version == 0 && tables == 0))
        return 0;
    if (id != LDS_LEDGER_ID || version < 1 || version > LDS_LEDGER_VERSION) {
        lds_ledger_damaged(ledger, "not the kind or version it was");
        return 0;
    }
    check_rows(ledger, (int)version);
    return (int)version;
}

static void refuse_empty(struct lds_ledger *ledger)
{
    ledger->status =
        lds_fail(ledger->error, LDS_BAD_INPUT, "%s: empty: no job has been added to this ledger yet", ledger->path);
}

/* The lock for writing is taken first, so that nothing changes between the check and the update. */
static void open_to_write(struct lds_ledger *ledger, bool create)
{
    open_file(ledger, SQLITE_OPEN_READWRITE | (create ? SQLITE_OPEN_CREATE : 0));
    lds_sql_run(ledger, "BEGIN IMMEDIATE");
    if (ledger->status)
        return;
    int version = check_whole(ledger);
    if (!ledger->status && version == 0 && !create)
        refuse_empty(ledger);
    lds_schema_migrate(ledger, version, LDS_LEDGER_VERSION);
    if (version == LDS_LEDGER_VERSION) /* a commit may repair a header that nothing depends on */
        lds_sql_rollback(ledger);
    (void)lds_sql_end(ledger);
}

/* An older version is read from a copy in memory that is updated. */
static void copy_to_memory(struct lds_ledger *ledger)
{
    sqlite3 *memory = NULL;
    int code = sqlite3_open(":memory:", &memory);
    sqlite3_backup *backup = code == SQLITE_OK ? sqlite3_backup_init(memory, "main", ledger->db, "main") : NULL;
    while (backup && (code = sqlite3_backup_step(backup, -1)) == SQLITE_BUSY)
        sqlite3_sleep(50); /* the file was checked a moment ago; writers are brief */
    if (!backup || sqlite3_backup_finish(backup) != SQLITE_OK || code != SQLITE_DONE) {
        sqlite3_close(memory);
        ledger->status = lds_fail(ledger->error, LDS_IO,
                                  "%s: an older ledger that cannot be copied to memory: try again", ledger->path);
        return;
    }
    sqlite3_close(ledger->db);
    ledger->db = memory;
    prepare(ledger);
    lds_sql_run(ledger, "BEGIN");
    lds_schema_migrate(ledger, check_whole(ledger), LDS_LEDGER_VERSION);
    (void)lds_sql_end(ledger);
}

static int check_to_read(struct lds_ledger *ledger, int flags)
{
    open_file(ledger, flags);
    lds_sql_run(ledger, "PRAGMA query_only = ON; BEGIN");
    int version = check_whole(ledger);
    (void)lds_sql_end(ledger);
    return version;
}

/* An interrupted write leaves a journal, from which the next program that opens the file restores it. That needs
 * permission to write, even for a reader. */
static void open_to_read(struct lds_ledger *ledger)
{
    int version = check_to_read(ledger, SQLITE_OPEN_READONLY);
    if (ledger->status && ledger->code == SQLITE_READONLY_ROLLBACK) {
        sqlite3_close(ledger->db);
        ledger->db = NULL;
        lds_sql_start(ledger, ledger->error);
        version = check_to_read(ledger, SQLITE_OPEN_READWRITE);
    }
    if (!ledger->status && version == 0)
        refuse_empty(ledger);
    if (!ledger->status && version < LDS_LEDGER_VERSION)
        copy_to_memory(ledger);
}

enum lds_status lds_ledger_open(const char *path, unsigned flags, struct lds_ledger **ledger, struct lds_error *error)
{
    enum lds_ledger_file found;
    *ledger = NULL;
    enum lds_status status = lds_ledger_look(path, &found, error);
    if (status != LDS_OK)
        return status;
    bool read_only = flags & LDS_LEDGER_READ_ONLY, create = (flags & LDS_LEDGER_CREATE) && !read_only;
    if (found == LDS_LEDGER_MISSING && !create)
        return lds_fail(error, LDS_IO, "%s: no such file: expected a ledger that 'loadside job --ledger' made", path);
    struct lds_ledger *opened = calloc(1, sizeof *opened);
    if (opened)
        *opened = (struct lds_ledger){.path = strdup(path), .read_only = read_only, .error = error};
    if (!opened || !opened->path)
        status = lds_fail_memory(error, "the ledger");
    else if (read_only)
        open_to_read(opened);
    else
        open_to_write(opened, create);
    status = status ? status : opened->status;
    if (status == LDS_OK)
        *ledger = opened;
    else
        lds_ledger_close(opened);
    return status;
}

void lds_ledger_close(struct lds_ledger *ledger)
{
    if (!ledger)
        return;
    sqlite3_close(ledger->db);
    free(ledger->path);
    free(ledger);
}
