/* The first bytes of a file, looked at before SQLite may do anything to it. */
#ifndef LDS_LEDGER_HEADER_H
#define LDS_LEDGER_HEADER_H

#include <stdbool.h>

#include "loadside/error.h"

/* What stands at a path. */
enum lds_ledger_file {
    LDS_LEDGER_MISSING,
    LDS_LEDGER_EMPTY, /* of no length, or left so by a first write that was cut short and SQLite undoes */
    LDS_LEDGER_THERE, /* a ledger of a version that this program knows */
};

/* LDS_BAD_INPUT: no ledger (a folder, a text, another program's database), or one of a newer version. LDS_IO: it cannot
 * be read. */
enum lds_status lds_ledger_look(const char *path, enum lds_ledger_file *found, struct lds_error *error);

#endif
