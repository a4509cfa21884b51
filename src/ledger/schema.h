/* The tables of a ledger, and the update of an older one. */
#ifndef LDS_LEDGER_SCHEMA_H
#define LDS_LEDGER_SCHEMA_H

#include "ledger/sql.h"

/* "LdsL": no other program's files have it. */
enum { LDS_LEDGER_ID = 0x4c64734c, LDS_LEDGER_VERSION = 5 };

/* Updates the ledger from that version (0: empty) to `to`, within the caller's transaction. */
void lds_schema_migrate(struct lds_ledger *ledger, int from, int to);

/* LDS_BAD_INPUT unless the tables are exactly those of a ledger of that version: then no column is missing and no
 * foreign trigger or view can run. */
void lds_schema_check(struct lds_ledger *ledger, int version);

/* What there is at a path, by the first bytes of the file, before SQLite touches it. */
enum lds_ledger_file {
    LDS_LEDGER_MISSING,
    LDS_LEDGER_EMPTY, /* of length 0, or left empty by an interrupted first write that SQLite undoes */
    LDS_LEDGER_THERE, /* a ledger of a version that this program knows */
};

/* LDS_BAD_INPUT: not a ledger (a folder, a text, another program's database), or one of a newer version. LDS_IO: it
 * cannot be read. */
enum lds_status lds_ledger_look(const char *path, enum lds_ledger_file *found, struct lds_error *error);

#endif
