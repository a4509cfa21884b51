/* Files that people write in sections of keys and values: benches, job sheets, limits. inih takes the lines apart. It
 * does not say on which line a key stands, cuts the names of sections short, and stops saying more after the first line
 * that it could not read: that is done here. */
#ifndef LDS_INI_FILE_H
#define LDS_INI_FILE_H

#include <stdbool.h>

#include "loadside/error.h"

struct lds_ini_place {
    int line;
    int section_line;  /* where the section begins; 0: before any */
    char section[256]; /* without blanks around it; "" before any */
    bool indented;     /* the line continues the key before it, whose name it has */
};

struct lds_ini_format {
    const char *what;     /* "the bench file" */
    const char *name_one; /* what to do when it cannot be opened */
    const char *form;     /* what a line may be, and where to read more: "'key = value'; see docs/bench-file.md" */
    const char *shorten;  /* what to do with a line that is too long */

    /* These return an error without file and line, which are put before it. */
    /* A section begins; not closed: its name has no end. May be NULL. */
    enum lds_status (*section)(void *context, const struct lds_ini_place *at, bool closed, struct lds_error *error);
    enum lds_status (*key)(void *context, const struct lds_ini_place *at, const char *name, const char *value,
                           struct lds_error *error);

    /* Takes what is wrong on a line, and the reading goes on. NULL: the first such ends it. */
    void (*fault)(void *context, int line, const char *text);
};

/* Reads all of the file. LDS_IO: it cannot be opened or read; LDS_BAD_USE: it is no file of text; or the first fault,
 * as "path:line: text". */
enum lds_status lds_ini_read(const char *path, const struct lds_ini_format *format, void *context,
                             struct lds_error *error);

/* LDS_OK when the key stands under [section], else the error for a file that has that section alone. */
enum lds_status lds_ini_under(const struct lds_ini_place *at, const char *section, const char *name,
                              struct lds_error *error);

#endif
