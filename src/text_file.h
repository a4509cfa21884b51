/* Text files that people write: benches, job sheets, limits, response curves. */
#ifndef LDS_TEXT_FILE_H
#define LDS_TEXT_FILE_H

#include <stdio.h>

#include "loadside/error.h"

/* Opens one for reading, after a check that it is text. Anything else is refused at once: reading it might never end,
 * or give an error for each line. what: "the bench file"; name_one: the remedy when there is none. LDS_IO: it cannot be
 * opened or read; LDS_BAD_USE: it is a folder, a pipe or a device, longer than 1 MiB, or contains a byte that text does
 * not. */
enum lds_status lds_text_file_open(const char *path, const char *what, const char *name_one, FILE **file,
                                   struct lds_error *error);

#endif
