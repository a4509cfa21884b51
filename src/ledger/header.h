/* Checks the first bytes of a file before SQLite touches it. */
#ifndef LDS_LEDGER_HEADER_H
#define LDS_LEDGER_HEADER_H

#include "loadside/error.h"

/* What there is at a path. */
enum lds_ledger_file {
    LDS_LEDGER_MISSING,
    LDS_LEDGER_EMPTY, /* of length 0, or left empty by an interrupted first write that SQLite undoes */
    LDS_LEDGER_THERE, /* a ledger of a version that this program knows */
};

/* LDS_BAD_INPUT: not a ledger (a folder, a text, another program's database), or one of a newer version. LDS_IO: it
 * cannot be read. */
enum lds_status lds_ledger_look(const char *path, enum lds_ledger_file *found, struct lds_error *error);

#endif
