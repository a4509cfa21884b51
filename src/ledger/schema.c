#include "ledger/schema.h"

#include <stdio.h>
#include <string.h>

#include "fail.h"

/* The current tables, as made by the version that last changed them. */
#define UNIT_AND_JOB_TABLES                                                                                            \
    "CREATE TABLE unit (\n"                                                                                            \
    "  id INTEGER PRIMARY KEY,\n"                                                                                      \
    "  make TEXT, type TEXT, serial TEXT\n"                                                                            \
    ") STRICT;\n"                                                                                                      \
    "CREATE UNIQUE INDEX unit_name ON unit (ifnull(make, ''), ifnull(type, ''), serial) WHERE serial IS NOT NULL;\n"   \
    "CREATE TABLE job (\n"                                                                                             \
    "  id INTEGER PRIMARY KEY,\n"                                                                                      \
    "  unit_id INTEGER NOT NULL REFERENCES unit,\n"                                                                    \
    "  identity TEXT NOT NULL UNIQUE,\n"                                                                               \
    "  digest TEXT NOT NULL,\n"                                                                                        \
    "  date TEXT, client TEXT, work TEXT, program TEXT NOT NULL\n"                                                     \
    ") STRICT;\n"                                                                                                      \
    "CREATE INDEX job_of_unit ON job (unit_id);\n"

#define CAPTURE_TABLE                                                                                                  \
    "CREATE TABLE capture (\n"                                                                                         \
    "  id INTEGER PRIMARY KEY,\n"                                                                                      \
    "  job_id INTEGER NOT NULL REFERENCES job,\n"                                                                      \
    "  place INTEGER NOT NULL,\n"                                                                                      \
    "  name TEXT, file TEXT, sha256 TEXT NOT NULL,\n"                                                                  \
    "  role TEXT NOT NULL,\n"                                                                                          \
    "  side TEXT NOT NULL CHECK (side IN ('', 'before', 'after')),\n"                                                  \
    "  power_w REAL, channel INTEGER NOT NULL, repeat INTEGER NOT NULL, note TEXT,\n"                                  \
    "  seconds REAL, rate_hz REAL, load_ohm REAL, tone_hz REAL,\n"                                                     \
    "  UNIQUE (job_id, place)\n"                                                                                       \
    ") STRICT;\n"

#define PART_TABLE                                                                                                     \
    "CREATE TABLE part (\n"                                                                                            \
    "  job_id INTEGER NOT NULL REFERENCES job,\n"                                                                      \
    "  place INTEGER NOT NULL,\n"                                                                                      \
    "  name TEXT, before TEXT, after TEXT,\n"                                                                          \
    "  PRIMARY KEY (job_id, place)\n"                                                                                  \
    ") STRICT, WITHOUT ROWID;\n"

#define FIGURE_TABLE                                                                                                   \
    "CREATE TABLE figure (\n"                                                                                          \
    "  capture_id INTEGER NOT NULL REFERENCES capture,\n"                                                              \
    "  channel INTEGER NOT NULL, other INTEGER NOT NULL, place INTEGER NOT NULL,\n"                                    \
    "  key TEXT NOT NULL, unit TEXT NOT NULL,\n"                                                                       \
    "  value REAL, low REAL, high REAL, u_a REAL, u_b REAL, dof REAL,\n"                                               \
    "  band_low_hz REAL, band_high_hz REAL, order_first INTEGER, order_last INTEGER, removed_hz REAL,\n"               \
    "  flags TEXT,\n"                                                                                                  \
    "  PRIMARY KEY (capture_id, channel, other, place)\n"                                                              \
    ") STRICT, WITHOUT ROWID;\n"

/* The names of channels, such as left: of those that have one. */
#define CHANNEL_TABLE                                                                                                  \
    "CREATE TABLE channel (\n"                                                                                         \
    "  capture_id INTEGER NOT NULL REFERENCES capture,\n"                                                              \
    "  channel INTEGER NOT NULL,\n"                                                                                    \
    "  name TEXT NOT NULL,\n"                                                                                          \
    "  PRIMARY KEY (capture_id, channel)\n"                                                                            \
    ") STRICT, WITHOUT ROWID;\n"

/* Each step updates a ledger from the version of its index to the next. A released step never changes; a new one
 * follows it, and columns it adds allow NULL, so that the digests of older jobs stay valid (digest.h). */
static const char *const steps[] = {
    "" UNIT_AND_JOB_TABLES "CREATE TABLE capture (\n"
    "  id INTEGER PRIMARY KEY,\n"
    "  job_id INTEGER NOT NULL REFERENCES job,\n"
    "  place INTEGER NOT NULL,\n"
    "  name TEXT, file TEXT, sha256 TEXT NOT NULL,\n"
    "  role TEXT NOT NULL CHECK (role IN ('idle', 'sine', 'chain')),\n"
    "  side TEXT NOT NULL CHECK (side IN ('', 'before', 'after')),\n"
    "  power_w REAL, channel INTEGER NOT NULL, repeat INTEGER NOT NULL, note TEXT,\n"
    "  seconds REAL, rate_hz REAL,\n"
    "  UNIQUE (job_id, place)\n"
    ") STRICT;\n" FIGURE_TABLE,

    /* 1 to 2: the load of a sine, without which its power says little, and what the work changed. */
    "ALTER TABLE capture ADD COLUMN load_ohm REAL;\n" PART_TABLE,

    /* 2 to 3: the tone of a sine, which separates histories like its power. */
    "ALTER TABLE capture ADD COLUMN tone_hz REAL;\n",

    /* 3 to 4: a role may be any word, for future roles. SQLite cannot remove a check from a table, so the table is made
     * again, and so is the one whose rows refer to it, since a table with references to it cannot be dropped. */
    "ALTER TABLE capture RENAME TO old_capture;\n"
    "ALTER TABLE figure RENAME TO old_figure;\n" CAPTURE_TABLE FIGURE_TABLE
    "INSERT INTO capture SELECT * FROM old_capture;\n"
    "INSERT INTO figure SELECT * FROM old_figure;\n"
    "DROP TABLE old_figure;\n"
    "DROP TABLE old_capture;\n",

    /* 4 to 5: what the channels are. */
    "" CHANNEL_TABLE,
};

/* A new ledger: exactly the result of all steps, without the pages that they leave empty. */
static const char all_steps[] = UNIT_AND_JOB_TABLES CAPTURE_TABLE FIGURE_TABLE PART_TABLE CHANNEL_TABLE;

_Static_assert(sizeof steps / sizeof steps[0] == LDS_LEDGER_VERSION, "a step for each version");

void lds_schema_migrate(struct lds_ledger *ledger, int from, int to)
{
    char sql[96];
    if (from == 0 && to == LDS_LEDGER_VERSION)
        lds_sql_run(ledger, all_steps);
    else
        for (int version = from; version < to; version++)
            lds_sql_run(ledger, steps[version]);
    snprintf(sql, sizeof sql, "PRAGMA application_id = %d; PRAGMA user_version = %d", LDS_LEDGER_ID, to);
    if (from < to)
        lds_sql_run(ledger, sql);
}

static bool same_text(sqlite3_stmt *one, sqlite3_stmt *other, int column)
{
    const char *a = (const char *)sqlite3_column_text(one, column);
    const char *b = (const char *)sqlite3_column_text(other, column);
    return a && b ? strcmp(a, b) == 0 : a == b;
}

/* Row by row: type, name, table and the statement that made it. */
static bool same_tables(struct lds_ledger *ledger, struct lds_ledger *pattern)
{
    static const char sql[] = "SELECT type, name, tbl_name, sql FROM sqlite_schema ORDER BY name, type";
    sqlite3_stmt *ours = lds_sql_prepare(pattern, sql), *theirs = lds_sql_prepare(ledger, sql);
    bool same = true, row = true;
    while (same && row) {
        row = lds_sql_step(pattern, ours);
        same = lds_sql_step(ledger, theirs) == row;
        for (int column = 0; same && row && column < 4; column++)
            same = same_text(ours, theirs, column);
    }
    sqlite3_finalize(ours);
    sqlite3_finalize(theirs);
    return same;
}

void lds_schema_check(struct lds_ledger *ledger, int version)
{
    struct lds_ledger pattern = {.path = ledger->path, .status = ledger->status, .error = ledger->error};
    if (!pattern.status && sqlite3_open(":memory:", &pattern.db) != SQLITE_OK)
        lds_sql_no_memory(&pattern);
    lds_schema_migrate(&pattern, 0, version);
    bool same = same_tables(ledger, &pattern);
    sqlite3_close(pattern.db);
    ledger->status = pattern.status ? pattern.status : ledger->status;
    if (!ledger->status && !same)
        lds_ledger_damaged(ledger, "its tables are not those of a ledger");
}
