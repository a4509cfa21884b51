/* A few calls to SQLite. The first failure is kept, and all later calls do nothing: so only the function that begins
 * and ends a piece of work has to check whether all of it succeeded. */
#ifndef LDS_LEDGER_SQL_H
#define LDS_LEDGER_SQL_H

#include <sqlite3.h>
#include <stdbool.h>

#include "loadside/ledger.h"

struct lds_ledger {
    sqlite3 *db;
    char *path; /* as given; for messages */
    bool read_only;
    int code;                /* SQLite's extended code of the last failure */
    enum lds_status status;  /* the first failure; LDS_OK: none yet */
    struct lds_error *error; /* where its message goes; may be NULL */
};

enum { LDS_LEDGER_WAIT_MS = 10000 };

/* Call it before anything else of a new piece of work: it forgets an earlier failure. */
void lds_sql_start(struct lds_ledger *ledger, struct lds_error *error);

/* Keeps the meaning of SQLite's last error, for people. */
void lds_sql_fail(struct lds_ledger *ledger);
/* Damage that SQLite does not notice; how: "the figures of a job are not as they were added". */
void lds_ledger_damaged(struct lds_ledger *ledger, const char *how);
void lds_sql_no_memory(struct lds_ledger *ledger);

/* Statements without rows. */
void lds_sql_run(struct lds_ledger *ledger, const char *sql);
/* Finish it with sqlite3_finalize (NULL after an error). */
sqlite3_stmt *lds_sql_prepare(struct lds_ledger *ledger, const char *sql);
/* Whether there is a row; else the statement is finished. */
bool lds_sql_step(struct lds_ledger *ledger, sqlite3_stmt *statement);
/* Values for ?1, ?2 and so on follow `types`, with a letter for each: t text (const char *; it must stay valid until
 * the statement is finished), r real (double), i whole number (int64_t), n number (int), c count (int; 0 is bound as
 * NULL). A NULL text and a NAN are bound as NULL. */

/* Binds values, runs a statement without rows, and resets it for other values. */
void lds_sql_insert(struct lds_ledger *ledger, sqlite3_stmt *statement, const char *types, ...);
/* Passes each row of a statement to take, until something fails. take may be NULL for a statement without rows. */
typedef void lds_sql_take(void *context, struct lds_ledger *ledger, sqlite3_stmt *row);
void lds_sql_each(struct lds_ledger *ledger, const char *sql, lds_sql_take *take, void *context, const char *types,
                  ...);
/* A whole number from a statement with one column and at most one row; 0: no row. */
int64_t lds_sql_number(struct lds_ledger *ledger, const char *sql, const char *types, ...);

/* Undoes everything since BEGIN, if anything; the file is as it was. */
void lds_sql_rollback(struct lds_ledger *ledger);
/* Commits the transaction, or rolls it back if something failed. Returns the first failure. */
enum lds_status lds_sql_end(struct lds_ledger *ledger);

/* Adds one to a list, as lds_grow; NULL: no memory. */
void *lds_sql_grow(struct lds_ledger *ledger, void *list, size_t *count, size_t size);
/* A value of a row: text as a copy (NULL stays NULL), NAN for NULL. */
char *lds_sql_text(struct lds_ledger *ledger, sqlite3_stmt *statement, int column);
double lds_sql_real(sqlite3_stmt *statement, int column);

#endif
