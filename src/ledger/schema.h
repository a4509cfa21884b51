/* The tables of a ledger, and what brings an older one up to date. */
#ifndef LDS_LEDGER_SCHEMA_H
#define LDS_LEDGER_SCHEMA_H

#include "ledger/sql.h"

/* "LdsL": no other program's files carry it. */
enum { LDS_LEDGER_ID = 0x4c64734c, LDS_LEDGER_VERSION = 4 };

/* Takes the ledger from that version (0: empty) to `to`, within the caller's transaction. */
enum lds_status lds_schema_migrate(struct lds_ledger *ledger, int from, int to, struct lds_error *error);

/* LDS_BAD_INPUT unless the tables are, to the letter, those of a ledger of that version: then no column is missing and
 * no trigger or view of another's making can run. */
enum lds_status lds_schema_check(struct lds_ledger *ledger, int version, struct lds_error *error);

#endif
