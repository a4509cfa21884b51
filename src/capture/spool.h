/* Temporary files without a name, in TMPDIR or /tmp: they vanish when their descriptor is closed, however the program
 * ends. */
#ifndef LDS_CAPTURE_SPOOL_H
#define LDS_CAPTURE_SPOOL_H

#include <stdint.h>

#include "loadside/error.h"

/* The folder used. */
const char *lds_spool_folder(void);

enum lds_status lds_spool_new(int *fd, struct lds_error *error);

/* Copies up to `bytes` more from `from` to the end of the spool; *got: how many, fewer only at the end of `from`. The
 * spool is then at its start, ready for reading. */
enum lds_status lds_spool_copy(int from, const char *name, int fd, int64_t bytes, int64_t *got,
                               struct lds_error *error);

#endif
