/* The limits file: what figures must keep to (docs/limits-file.md). */
#ifndef CLI_LIMITS_FILE_H
#define CLI_LIMITS_FILE_H

#include <stdbool.h>
#include <stddef.h>

#include "loadside/loadside.h"

struct limits {
    struct lds_limit *limit; /* keys are owned */
    const char **unit;       /* that each was given in, once % and dBV are turned into dB and V */
    size_t count;
};

/* Reads the file; says what is wrong, with the line. limits is to be freed either way. */
bool limits_read(const char *path, struct limits *limits);
void limits_free(struct limits *limits);

/* Whether each limit is in the unit that the figures have, as volts and dBFS cannot be held against each other; says
 * which is not. */
bool limits_check(const char *path, const struct limits *limits, const struct lds_measurement *measurement,
                  size_t count);

#endif
