/* Files with sections of keys and values that people write: benches, job sheets, limits. inih splits the lines. It does
 * not give the line number of a key, cuts off long section names, and reports only the first line it cannot read; this
 * file adds what is missing. */
#ifndef LDS_INI_FILE_H
#define LDS_INI_FILE_H

#include <stdbool.h>

#include "loadside/error.h"

struct lds_ini_place {
    int line;
    int section_line;  /* where the section begins; 0: before any */
    char section[256]; /* without surrounding blanks; "" before any section */
    bool indented;     /* the line continues the previous key, and has its name */
};

struct lds_ini_format {
    const char *what;     /* "the bench file" */
    const char *name_one; /* remedy when it cannot be opened */
    const char *form;     /* what a line may be, and where this is documented: "'key = value'; see
                           * docs/bench-file.md" */
    const char *shorten;  /* remedy for a line that is too long */

    /* These return an error without file and line, which are added in front. */
    /* A section begins; closed is false if its name has no end. May be NULL. */
    enum lds_status (*section)(void *context, const struct lds_ini_place *at, bool closed, struct lds_error *error);
    enum lds_status (*key)(void *context, const struct lds_ini_place *at, const char *name, const char *value,
                           struct lds_error *error);

    /* Gets the fault of a line; reading continues. NULL: the first fault ends it. */
    void (*fault)(void *context, int line, const char *text);
};

/* Reads the whole file. LDS_IO: it cannot be opened or read; LDS_BAD_USE: it is not a text file; or the first fault, as
 * "path:line: text". */
enum lds_status lds_ini_read(const char *path, const struct lds_ini_format *format, void *context,
                             struct lds_error *error);

/* LDS_OK when the key is under [section], else the error for a file that has only that section. */
enum lds_status lds_ini_under(const struct lds_ini_place *at, const char *section, const char *name,
                              struct lds_error *error);

#endif
