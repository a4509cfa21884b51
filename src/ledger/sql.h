/* A few calls to SQLite that return an lds_status. */
#ifndef LDS_LEDGER_SQL_H
#define LDS_LEDGER_SQL_H

#include <sqlite3.h>
#include <stdbool.h>

#include "loadside/ledger.h"

struct lds_ledger {
    sqlite3 *db;
    char *path; /* as given; for messages */
    bool read_only;
    int code; /* SQLite's extended code of the last failure */
};

enum { LDS_LEDGER_WAIT_MS = 10000 };

/* The meaning of SQLite's last error, for people. */
enum lds_status lds_sql_fail(struct lds_ledger *ledger, struct lds_error *error);
/* Damage that SQLite does not notice; how: "the figures of a job are not as they were added". */
enum lds_status lds_ledger_damaged(struct lds_ledger *ledger, const char *how, struct lds_error *error);

/* Statements without rows. */
enum lds_status lds_sql_run(struct lds_ledger *ledger, const char *sql, struct lds_error *error);
/* Finish *statement with sqlite3_finalize (NULL after an error). */
enum lds_status lds_sql_prepare(struct lds_ledger *ledger, const char *sql, sqlite3_stmt **statement,
                                struct lds_error *error);
/* row: there is a row; else the statement is finished. */
enum lds_status lds_sql_step(struct lds_ledger *ledger, sqlite3_stmt *statement, bool *row, struct lds_error *error);
/* Values for ?1, ?2 and so on follow `types`, with a letter for each: t text (const char *; it must stay valid until
 * the statement is finished), r real (double), i whole number (int64_t), n number (int), c count (int; 0 is bound as
 * NULL). A NULL text and a NAN are bound as NULL. */

/* Binds values, runs a statement without rows, and resets it for other values. */
enum lds_status lds_sql_insert(struct lds_ledger *ledger, sqlite3_stmt *statement, struct lds_error *error,
                               const char *types, ...);
/* The same with a statement that is used only once. */
enum lds_status lds_sql_insert_one(struct lds_ledger *ledger, const char *sql, struct lds_error *error,
                                   const char *types, ...);
/* Passes each row of a statement to take, until that fails. */
typedef enum lds_status lds_sql_take(void *context, sqlite3_stmt *row, struct lds_error *error);
enum lds_status lds_sql_each(struct lds_ledger *ledger, const char *sql, lds_sql_take *take, void *context,
                             struct lds_error *error, const char *types, ...);
/* A whole number from a statement with one row and column. */
enum lds_status lds_sql_number(struct lds_ledger *ledger, const char *sql, int64_t *number, struct lds_error *error);

/* Undoes everything since BEGIN, if anything; the file is as it was. */
void lds_sql_rollback(struct lds_ledger *ledger);
/* Commits the transaction, or rolls it back if status is an error or the commit fails. */
enum lds_status lds_sql_end(struct lds_ledger *ledger, enum lds_status status, struct lds_error *error);

/* A value of a row: text as a copy (NULL stays NULL; *enough turns false when memory runs out), NAN for NULL. */
char *lds_sql_text(sqlite3_stmt *statement, int column, bool *enough);
double lds_sql_real(sqlite3_stmt *statement, int column);

#endif
