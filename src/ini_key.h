/* Tables of the keys in files of keys and values: used for reading, for messages, for the sheet to fill in, and for the
 * tests that compare them with the documentation. */
#ifndef LDS_INI_KEY_H
#define LDS_INI_KEY_H

#include <stdbool.h>
#include <stddef.h>

#include "loadside/error.h"

enum lds_ini_kind {                   /* of the value, and of the member that it sets */
                    LDS_INI_TEXT,     /* char *, NULL or on the heap */
                    LDS_INI_PATH,     /* the same; double quotes around it are left out */
                    LDS_INI_LINES,    /* the same; indented lines may continue it */
                    LDS_INI_DATE,     /* the same; 2026-05-17 */
                    LDS_INI_QUANTITY, /* double; a time may also be in min */
                    LDS_INI_WHOLE,    /* int */
                    LDS_INI_BAND,     /* double[2]: two frequencies, the second above the first */
                    LDS_INI_RAILS,    /* double[2]: one or two quantities, separated by a comma; NAN: no second one */
                    LDS_INI_YES_NO,   /* bool */
                    LDS_INI_WORD,     /* an enum that starts at 0 */
                    LDS_INI_ROW,      /* const T *, a row of a table */
                    LDS_INI_OWN       /* handled by the reader of the file */
};

struct lds_ini_key {
    const char *name;
    enum lds_ini_kind kind;
    const char *unit;               /* of a quantity, "" when it has none */
    size_t offset;                  /* of the member in the struct to fill */
    double low, high;               /* of a quantity or whole number, both included */
    bool above_low;                 /* low itself is not allowed */
    const char *fallback, *meaning; /* for the documentation: the default, and the meaning */
    const char *(*word)(int i);     /* the words of an enum, or the names of rows; NULL after the last */
    const void *(*row)(int i);      /* the row of that name */
};

/* The row of that name, or NULL. */
const struct lds_ini_key *lds_ini_key_find(const struct lds_ini_key *keys, size_t count, const char *name);

/* Sets the key's member of *base. LDS_BAD_USE: the value is wrong; *base is unchanged. */
enum lds_status lds_ini_set(const struct lds_ini_key *key, void *base, const char *value, struct lds_error *error);

/* "idle, sine or chain" */
void lds_ini_list(const char *const *words, size_t count, char *text, size_t size);

/* Fails with `what` and a suggestion, "unknown key 'powr': is 'power' meant?", or with `otherwise` when no word is
 * near. */
enum lds_status lds_ini_unknown(const char *what, const char *word, const char *const *words, size_t count,
                                const char *otherwise, struct lds_error *error);

#endif
