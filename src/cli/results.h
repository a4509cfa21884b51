/* Results to where the options say. */
#ifndef CLI_RESULTS_H
#define CLI_RESULTS_H

#include "common.h"

/* How a command writes what it found. */
struct results {
    const void *context;
    enum lds_status (*text)(const void *context, FILE *out, struct lds_error *error);
    enum lds_status (*json)(const void *context, const char *path, struct lds_error *error);
    enum lds_status (*csv)(const void *context, const char *path, struct lds_error *error);
    enum lds_status (*plots)(const void *context, const char *folder, unsigned options, int *drawn,
                             struct lds_error *error); /* NULL: the command has no such option */
};

/* Writes everything that was asked for; false when something could not be written, which was said. */
bool results_write(const struct common *common, const struct results *results);

#endif
