/* Tables of the keys that files of keys and values may hold: they drive reading, messages, the sheet to fill in, and
 * the tests that the documentation agrees. */
#ifndef LDS_INI_KEY_H
#define LDS_INI_KEY_H

#include <stdbool.h>
#include <stddef.h>

#include "loadside/error.h"

enum lds_ini_kind {                   /* of value, and the member that it sets */
                    LDS_INI_TEXT,     /* char *, NULL or on the heap */
                    LDS_INI_LINES,    /* the same; indented lines may continue it */
                    LDS_INI_DATE,     /* the same; 2026-05-17 */
                    LDS_INI_QUANTITY, /* double; a time in min, too */
                    LDS_INI_WHOLE,    /* int */
                    LDS_INI_BAND,     /* double[2]: two frequencies, the second above the first */
                    LDS_INI_YES_NO,   /* bool */
                    LDS_INI_WORD,     /* an enum that begins at 0 */
                    LDS_INI_OWN       /* taken by the reader of the file */
};

struct lds_ini_key {
    const char *name;
    enum lds_ini_kind kind;
    const char *unit;               /* of a quantity, "" when it has none */
    size_t offset;                  /* of the member in the struct that is filled */
    double low, high;               /* of a quantity or whole number, both included */
    bool above_low;                 /* low itself is out of range */
    const char *fallback, *meaning; /* for the documentation: what holds when the key is missing; what it is */
    const char *(*word)(int i);     /* the words of an enum; NULL after the last */
};

/* The row of that name, or NULL. */
const struct lds_ini_key *lds_ini_key_find(const struct lds_ini_key *keys, size_t count, const char *name);

/* Sets the key's member of *base. LDS_BAD_USE: the value is wrong, and *base as it was. */
enum lds_status lds_ini_set(const struct lds_ini_key *key, void *base, const char *value, struct lds_error *error);

/* Fails with what, "unknown key 'powr': is 'power' meant?", or otherwise in the place of the nearest word. */
enum lds_status lds_ini_unknown(const char *what, const char *word, const char *const *words, size_t count,
                                const char *otherwise, struct lds_error *error);

#endif
