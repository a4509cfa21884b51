/* Opens a ledger: checks what the file is and whether it is complete, and updates an older version. */
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "fail.h"
#include "ledger/digest.h"
#include "ledger/header.h"
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
static enum lds_status prepare(struct lds_ledger *ledger, struct lds_error *error)
{
    sqlite3_extended_result_codes(ledger->db, 1);
    sqlite3_busy_timeout(ledger->db, LDS_LEDGER_WAIT_MS);
    /* A foreign file must not make SQLite run anything; see "Defense Against The Dark Arts", sqlite.org. */
    (void)sqlite3_db_config(ledger->db, SQLITE_DBCONFIG_DEFENSIVE, 1, NULL);
    (void)sqlite3_db_config(ledger->db, SQLITE_DBCONFIG_TRUSTED_SCHEMA, 0, NULL);
    return lds_sql_run(ledger,
                       "PRAGMA foreign_keys = ON; PRAGMA cell_size_check = ON; PRAGMA synchronous = EXTRA; "
                       "PRAGMA temp_store = MEMORY",
                       error);
}

static enum lds_status open_file(struct lds_ledger *ledger, int flags, struct lds_error *error)
{
    char *path = plain_path(ledger->path);
    if (!path)
        return lds_fail_memory(error, "the ledger");
    int code = sqlite3_open_v2(path, &ledger->db, flags | SQLITE_OPEN_FULLMUTEX, NULL);
    free(path);
    enum lds_status status = code == SQLITE_OK ? prepare(ledger, error) : lds_sql_fail(ledger, error);
    if (status == LDS_OK && (flags & SQLITE_OPEN_READWRITE) && sqlite3_db_readonly(ledger->db, "main") == 1)
        return lds_fail(error, LDS_IO,
                        "%s: the ledger cannot be written: give yourself permission to write it, or name another",
                        ledger->path);
    return status;
}

/* "ok", or the first thing that is wrong. */
static enum lds_status take_answer(void *context, sqlite3_stmt *row, struct lds_error *error)
{
    const char *answer = (const char *)sqlite3_column_text(row, 0);
    char how[160];
    if (answer && strcmp(answer, "ok") == 0)
        return LDS_OK;
    snprintf(how, sizeof how, "%s", answer ? answer : "no answer");
    for (char *c = how; *c; c++)
        *c = *c == '\n' ? ' ' : *c;
    return lds_ledger_damaged(context, how, error);
}

static enum lds_status take_orphan(void *context, sqlite3_stmt *row, struct lds_error *error)
{
    (void)row;
    return lds_ledger_damaged(context, "rows without what they belong to", error);
}

static enum lds_status take_role(void *context, sqlite3_stmt *row, struct lds_error *error)
{
    const struct lds_ledger *ledger = context;
    const char *name = (const char *)sqlite3_column_text(row, 0);
    if (name && lds_role_find(name))
        return LDS_OK;
    return lds_fail(error, LDS_BAD_INPUT,
                    "%s: holds a capture of the role '%.40s', and this program does not know that role: use the newer "
                    "program that added it",
                    ledger->path, name ? name : "");
}

/* Checks pages, references between rows, the sums of the rows, and then the roles: a newer program of the same version
 * may have more of them. */
static enum lds_status check_rows(struct lds_ledger *ledger, int version, struct lds_error *error)
{
    enum lds_status status = lds_sql_each(ledger, "PRAGMA integrity_check(1)", take_answer, ledger, error, "");
    if (status == LDS_OK)
        status = lds_sql_each(ledger, "PRAGMA foreign_key_check", take_orphan, ledger, error, "");
    if (status == LDS_OK)
        status = lds_schema_check(ledger, version, error);
    if (status == LDS_OK)
        status = lds_digest_check(ledger, version, error);
    if (status == LDS_OK)
        status = lds_sql_each(ledger, "SELECT DISTINCT role FROM capture", take_role, ledger, error, "");
    return status;
}

/* Within a transaction. *version: 0 for a file that is still empty. */
static enum lds_status check_whole(struct lds_ledger *ledger, int *version, struct lds_error *error)
{
    int64_t id = 0, number = 0, tables = 0;
    enum lds_status status = lds_sql_number(ledger, "PRAGMA application_id", &id, error);
    if (status == LDS_OK)
        status = lds_sql_number(ledger, "PRAGMA user_version", &number, error);
    if (status == LDS_OK)
        status = lds_sql_number(ledger, "SELECT count(*) FROM sqlite_schema", &tables, error);
    *version = 0;
    if (status != LDS_OK || (id == 0 && number == 0 && tables == 0))
        return status;
    if (id != LDS_LEDGER_ID || number < 1 || number > LDS_LEDGER_VERSION)
        return lds_ledger_damaged(ledger, "not the kind or version it was", error);
    *version = (int)number;
    return check_rows(ledger, *version, error);
}

/* For writing the lock comes first, so that nothing changes between the check and the update. */
static enum lds_status open_to_write(struct lds_ledger *ledger, bool create, struct lds_error *error)
{
    int version = 0;
    enum lds_status status = open_file(ledger, SQLITE_OPEN_READWRITE | (create ? SQLITE_OPEN_CREATE : 0), error);
    if (status == LDS_OK)
        status = lds_sql_run(ledger, "BEGIN IMMEDIATE", error);
    if (status != LDS_OK)
        return status;
    status = check_whole(ledger, &version, error);
    if (status == LDS_OK && (version > 0 || create))
        status = lds_schema_migrate(ledger, version, LDS_LEDGER_VERSION, error);
    else if (status == LDS_OK)
        status = lds_fail(error, LDS_BAD_INPUT, "%s: empty: no job has been added to this ledger yet", ledger->path);
    if (version == LDS_LEDGER_VERSION) /* a commit may repair a header that nothing depends on */
        lds_sql_rollback(ledger);
    return lds_sql_end(ledger, status, error);
}

/* An older version is read from a copy in memory that is updated. */
static enum lds_status copy_to_memory(struct lds_ledger *ledger, struct lds_error *error)
{
    sqlite3 *memory = NULL;
    int code = sqlite3_open(":memory:", &memory);
    sqlite3_backup *backup = code == SQLITE_OK ? sqlite3_backup_init(memory, "main", ledger->db, "main") : NULL;
    while (backup && (code = sqlite3_backup_step(backup, -1)) == SQLITE_BUSY)
        sqlite3_sleep(50); /* the file was checked a moment ago; writers are brief */
    enum lds_status status = LDS_OK;
    if (!backup || sqlite3_backup_finish(backup) != SQLITE_OK || code != SQLITE_DONE) {
        sqlite3_close(memory);
        return lds_fail(error, LDS_IO, "%s: an older ledger that cannot be copied to memory: try again", ledger->path);
    }
    sqlite3_close(ledger->db);
    ledger->db = memory;
    int version = 0;
    status = prepare(ledger, error);
    if (status == LDS_OK)
        status = lds_sql_run(ledger, "BEGIN", error);
    if (status == LDS_OK)
        status = check_whole(ledger, &version, error);
    if (status == LDS_OK)
        status = lds_schema_migrate(ledger, version, LDS_LEDGER_VERSION, error);
    return lds_sql_end(ledger, status, error);
}

static enum lds_status check_to_read(struct lds_ledger *ledger, int flags, int *version, struct lds_error *error)
{
    enum lds_status status = open_file(ledger, flags, error);
    if (status == LDS_OK)
        status = lds_sql_run(ledger, "PRAGMA query_only = ON; BEGIN", error);
    if (status == LDS_OK)
        status = check_whole(ledger, version, error);
    return lds_sql_end(ledger, status, error);
}

/* An interrupted write leaves a journal, from which the next program that opens the file restores it. That needs
 * permission to write, even for a reader. */
static enum lds_status open_to_read(struct lds_ledger *ledger, struct lds_error *error)
{
    int version = 0;
    enum lds_status status = check_to_read(ledger, SQLITE_OPEN_READONLY, &version, error);
    if (status != LDS_OK && ledger->code == SQLITE_READONLY_ROLLBACK) {
        sqlite3_close(ledger->db);
        ledger->db = NULL;
        status = check_to_read(ledger, SQLITE_OPEN_READWRITE, &version, error);
    }
    if (status == LDS_OK && version == 0)
        status = lds_fail(error, LDS_BAD_INPUT, "%s: empty: no job has been added to this ledger yet", ledger->path);
    if (status == LDS_OK && version < LDS_LEDGER_VERSION)
        status = copy_to_memory(ledger, error);
    return status;
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
        *opened = (struct lds_ledger){.path = strdup(path), .read_only = read_only};
    if (!opened || !opened->path)
        status = lds_fail_memory(error, "the ledger");
    else
        status = read_only ? open_to_read(opened, error) : open_to_write(opened, create, error);
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
