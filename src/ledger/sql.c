#include "ledger/sql.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "fail.h"
#include "grow.h"

/* Puts SQLite's message on one line: if the schema is damaged, SQLite quotes what it cannot read, over several
 * lines. */
static void one_line(const char *message, char *words, size_t size)
{
    snprintf(words, size, "%s", message);
    for (char *c = words; *c; c++)
        if ((unsigned char)*c < 0x20)
            *c = ' ';
}

void lds_sql_start(struct lds_ledger *ledger, struct lds_error *error)
{
    ledger->status = LDS_OK;
    ledger->error = error;
}

static enum lds_status say_damaged(const struct lds_ledger *ledger, const char *how)
{
    return lds_fail(ledger->error, LDS_BAD_INPUT,
                    "%s: this ledger is damaged (%s) and was left as it is: restore a copy of it", ledger->path, how);
}

/* Sets a message by the primary code; SQLite's own where none of ours fits. */
static enum lds_status say_code(const struct lds_ledger *ledger)
{
    int code = ledger->db ? sqlite3_errcode(ledger->db) : SQLITE_NOMEM;
    struct lds_error *error = ledger->error;
    char words[160];
    one_line(ledger->db ? sqlite3_errmsg(ledger->db) : "", words, sizeof words);
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
        return say_damaged(ledger, words);
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

void lds_sql_fail(struct lds_ledger *ledger)
{
    ledger->code = ledger->db ? sqlite3_extended_errcode(ledger->db) : SQLITE_NOMEM;
    ledger->status = say_code(ledger);
}

void lds_ledger_damaged(struct lds_ledger *ledger, const char *how)
{
    ledger->status = say_damaged(ledger, how);
}

void lds_sql_no_memory(struct lds_ledger *ledger)
{
    if (!ledger->status)
        ledger->status = lds_fail_memory(ledger->error, "the ledger");
}

void lds_sql_run(struct lds_ledger *ledger, const char *sql)
{
    if (!ledger->status && sqlite3_exec(ledger->db, sql, NULL, NULL, NULL) != SQLITE_OK)
        lds_sql_fail(ledger);
}

sqlite3_stmt *lds_sql_prepare(struct lds_ledger *ledger, const char *sql)
{
    sqlite3_stmt *statement = NULL;
    if (!ledger->status && sqlite3_prepare_v2(ledger->db, sql, -1, &statement, NULL) != SQLITE_OK)
        lds_sql_fail(ledger);
    return statement;
}

bool lds_sql_step(struct lds_ledger *ledger, sqlite3_stmt *statement)
{
    int code = ledger->status ? SQLITE_DONE : sqlite3_step(statement);
    if (code != SQLITE_ROW && code != SQLITE_DONE)
        lds_sql_fail(ledger);
    return code == SQLITE_ROW;
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

void lds_sql_insert(struct lds_ledger *ledger, sqlite3_stmt *statement, const char *types, ...)
{
    va_list values;
    if (ledger->status)
        return;
    va_start(values, types);
    bind(statement, types, values);
    va_end(values);
    (void)lds_sql_step(ledger, statement);
    sqlite3_reset(statement);
}

static void each(struct lds_ledger *ledger, const char *sql, lds_sql_take *take, void *context, const char *types,
                 va_list values)
{
    sqlite3_stmt *statement = lds_sql_prepare(ledger, sql);
    if (statement)
        bind(statement, types, values);
    while (lds_sql_step(ledger, statement))
        take(context, ledger, statement);
    sqlite3_finalize(statement);
}

void lds_sql_each(struct lds_ledger *ledger, const char *sql, lds_sql_take *take, void *context, const char *types, ...)
{
    va_list values;
    va_start(values, types);
    each(ledger, sql, take, context, types, values);
    va_end(values);
}

static void take_number(void *context, struct lds_ledger *ledger, sqlite3_stmt *row)
{
    (void)ledger;
    *(int64_t *)context = sqlite3_column_int64(row, 0);
}

int64_t lds_sql_number(struct lds_ledger *ledger, const char *sql, const char *types, ...)
{
    int64_t number = 0;
    va_list values;
    va_start(values, types);
    each(ledger, sql, take_number, &number, types, values);
    va_end(values);
    return number;
}

void lds_sql_rollback(struct lds_ledger *ledger)
{
    if (ledger->db && !sqlite3_get_autocommit(ledger->db))
        (void)sqlite3_exec(ledger->db, "ROLLBACK", NULL, NULL, NULL);
}

enum lds_status lds_sql_end(struct lds_ledger *ledger)
{
    if (!ledger->status && !sqlite3_get_autocommit(ledger->db))
        lds_sql_run(ledger, "COMMIT");
    if (ledger->status)
        lds_sql_rollback(ledger);
    return ledger->status;
}

void *lds_sql_grow(struct lds_ledger *ledger, void *list, size_t *count, size_t size)
{
    void *one = lds_grow(list, count, size);
    if (!one)
        lds_sql_no_memory(ledger);
    return one;
}

char *lds_sql_text(struct lds_ledger *ledger, sqlite3_stmt *statement, int column)
{
    const unsigned char *text = sqlite3_column_text(statement, column);
    char *copy = text ? strdup((const char *)text) : NULL;
    if (!copy && sqlite3_column_type(statement, column) != SQLITE_NULL)
        lds_sql_no_memory(ledger);
    return copy;
}

double lds_sql_real(sqlite3_stmt *statement, int column)
{
    return sqlite3_column_type(statement, column) == SQLITE_NULL ? (double)NAN
                                                                 : sqlite3_column_double(statement, column);
}
