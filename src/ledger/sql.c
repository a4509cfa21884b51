#include "ledger/sql.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "fail.h"

/* SQLite's message on one line: of a damaged schema it quotes what it cannot read, over several lines. */
static void one_line(const char *message, char *words, size_t size)
{
    snprintf(words, size, "%s", message);
    for (char *c = words; *c; c++)
        if ((unsigned char)*c < 0x20)
            *c = ' ';
}

/* A switch on the primary code; SQLite's own message where none of ours fits. */
enum lds_status lds_sql_fail(struct lds_ledger *ledger, struct lds_error *error)
{
    int code = ledger->db ? sqlite3_errcode(ledger->db) : SQLITE_NOMEM;
    char words[160];
    one_line(ledger->db ? sqlite3_errmsg(ledger->db) : "", words, sizeof words);
    ledger->code = ledger->db ? sqlite3_extended_errcode(ledger->db) : SQLITE_NOMEM;
    switch (code & 0xff) {
    case SQLITE_NOMEM:
        return lds_fail_memory(error, "the ledger");
    case SQLITE_BUSY:
    case SQLITE_LOCKED:
    case SQLITE_PROTOCOL:
        return lds_fail(error, LDS_IO, "%s: another program has held this ledger for %d s: try again when it is done",
                        ledger->path, LDS_LEDGER_WAIT_MS / 1000);
    case SQLITE_CORRUPT:
    case SQLITE_NOTADB:
        return lds_ledger_damaged(ledger, words, error);
    case SQLITE_FULL:
    case SQLITE_IOERR:
        return lds_fail(error, LDS_IO,
                        "%s: the disk does not take the ledger (%s), which is unchanged: free some space", ledger->path,
                        words);
    case SQLITE_READONLY:
    case SQLITE_CANTOPEN:
    case SQLITE_PERM:
    case SQLITE_AUTH:
        return lds_fail(error, LDS_IO,
                        "%s: cannot be opened or written (%s): a ledger must stand in a folder that can be written to",
                        ledger->path, words);
    default:
        return lds_fail(error, LDS_BAD_INPUT, "%s: the ledger cannot be used (%s): restore a copy of it", ledger->path,
                        words);
    }
}

enum lds_status lds_ledger_damaged(struct lds_ledger *ledger, const char *how, struct lds_error *error)
{
    return lds_fail(error, LDS_BAD_INPUT, "%s: this ledger is damaged (%s) and was left as it is: restore a copy of it",
                    ledger->path, how);
}

enum lds_status lds_sql_run(struct lds_ledger *ledger, const char *sql, struct lds_error *error)
{
    return sqlite3_exec(ledger->db, sql, NULL, NULL, NULL) == SQLITE_OK ? LDS_OK : lds_sql_fail(ledger, error);
}

enum lds_status lds_sql_prepare(struct lds_ledger *ledger, const char *sql, sqlite3_stmt **statement,
                                struct lds_error *error)
{
    *statement = NULL;
    return sqlite3_prepare_v2(ledger->db, sql, -1, statement, NULL) == SQLITE_OK ? LDS_OK : lds_sql_fail(ledger, error);
}

enum lds_status lds_sql_step(struct lds_ledger *ledger, sqlite3_stmt *statement, bool *row, struct lds_error *error)
{
    int code = sqlite3_step(statement);
    *row = code == SQLITE_ROW;
    return code == SQLITE_ROW || code == SQLITE_DONE ? LDS_OK : lds_sql_fail(ledger, error);
}

static void bind(sqlite3_stmt *statement, const char *types, va_list values)
{
    for (int i = 1; types[i - 1]; i++)
        switch (types[i - 1]) {
        case 't':
            (void)sqlite3_bind_text(statement, i, va_arg(values, const char *), -1, SQLITE_STATIC);
            break;
        case 'r': /* SQLite itself turns NAN into NULL */
            (void)sqlite3_bind_double(statement, i, va_arg(values, double));
            break;
        case 'i':
            (void)sqlite3_bind_int64(statement, i, va_arg(values, int64_t));
            break;
        case 'n':
            (void)sqlite3_bind_int(statement, i, va_arg(values, int));
            break;
        default: {
            int count = va_arg(values, int);
            (void)(count ? sqlite3_bind_int(statement, i, count) : sqlite3_bind_null(statement, i));
        }
        }
}

static enum lds_status insert(struct lds_ledger *ledger, sqlite3_stmt *statement, struct lds_error *error)
{
    bool row;
    enum lds_status status = lds_sql_step(ledger, statement, &row, error);
    sqlite3_reset(statement);
    return status;
}

enum lds_status lds_sql_insert(struct lds_ledger *ledger, sqlite3_stmt *statement, struct lds_error *error,
                               const char *types, ...)
{
    va_list values;
    va_start(values, types);
    bind(statement, types, values);
    va_end(values);
    return insert(ledger, statement, error);
}

enum lds_status lds_sql_insert_one(struct lds_ledger *ledger, const char *sql, struct lds_error *error,
                                   const char *types, ...)
{
    sqlite3_stmt *statement;
    enum lds_status status = lds_sql_prepare(ledger, sql, &statement, error);
    va_list values;
    va_start(values, types);
    if (status == LDS_OK) {
        bind(statement, types, values);
        status = insert(ledger, statement, error);
    }
    va_end(values);
    sqlite3_finalize(statement);
    return status;
}

enum lds_status lds_sql_each(struct lds_ledger *ledger, const char *sql, lds_sql_take *take, void *context,
                             struct lds_error *error, const char *types, ...)
{
    sqlite3_stmt *statement;
    bool row = true;
    enum lds_status status = lds_sql_prepare(ledger, sql, &statement, error);
    va_list values;
    va_start(values, types);
    if (status == LDS_OK)
        bind(statement, types, values);
    va_end(values);
    while (status == LDS_OK) {
        status = lds_sql_step(ledger, statement, &row, error);
        if (status != LDS_OK || !row)
            break;
        status = take(context, statement, error);
    }
    sqlite3_finalize(statement);
    return status;
}

static enum lds_status take_number(void *context, sqlite3_stmt *row, struct lds_error *error)
{
    (void)error;
    *(int64_t *)context = sqlite3_column_int64(row, 0);
    return LDS_OK;
}

enum lds_status lds_sql_number(struct lds_ledger *ledger, const char *sql, int64_t *number, struct lds_error *error)
{
    *number = 0;
    return lds_sql_each(ledger, sql, take_number, number, error, "");
}

void lds_sql_rollback(struct lds_ledger *ledger)
{
    if (ledger->db && !sqlite3_get_autocommit(ledger->db))
        (void)sqlite3_exec(ledger->db, "ROLLBACK", NULL, NULL, NULL);
}

enum lds_status lds_sql_end(struct lds_ledger *ledger, enum lds_status status, struct lds_error *error)
{
    if (status == LDS_OK && !sqlite3_get_autocommit(ledger->db))
        status = lds_sql_run(ledger, "COMMIT", error);
    if (status != LDS_OK)
        lds_sql_rollback(ledger);
    return status;
}

char *lds_sql_text(sqlite3_stmt *statement, int column, bool *enough)
{
    const unsigned char *text = sqlite3_column_text(statement, column);
    if (!text) {
        *enough = *enough && sqlite3_column_type(statement, column) == SQLITE_NULL;
        return NULL;
    }
    char *copy = strdup((const char *)text);
    *enough = *enough && copy;
    return copy;
}

double lds_sql_real(sqlite3_stmt *statement, int column)
{
    return sqlite3_column_type(statement, column) == SQLITE_NULL ? (double)NAN
                                                                 : sqlite3_column_double(statement, column);
}
