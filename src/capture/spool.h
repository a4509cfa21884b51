/* Temporary files without a name, in TMPDIR or /tmp: they are gone when their descriptor is closed, however the program
 * ends. */
#ifndef LDS_CAPTURE_SPOOL_H
#define LDS_CAPTURE_SPOOL_H

#include "loadside/error.h"

/* The folder used. */
const char *lds_spool_folder(void);

enum lds_status lds_spool_new(int *fd, struct lds_error *error);

/* Copies all that can still be read from `from` into a new spool, read from its start. */
enum lds_status lds_spool_copy(int from, const char *name, int *fd, struct lds_error *error);

#endif
