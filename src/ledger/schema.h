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

#endif
