/* Output files that appear completely or not at all: written next to their place, synced, then renamed; for standard
 * output, collected in memory. */
#ifndef LDS_WHOLE_FILE_H
#define LDS_WHOLE_FILE_H

#include <stdbool.h>
#include <stdio.h>

#include "loadside/error.h"
#include "scrap.h"

struct lds_whole_file { /* must not be moved while it is open */
    FILE *out;          /* where to write */
    char *path;         /* its final place, links followed */
    char *temporary;    /* its temporary place; NULL when written directly: "-", a device, a pipe */
    bool standard;      /* collected in scrap until complete, then printed */
    struct lds_scrap scrap;
};

/* Opens path ("-": standard output). After success call exactly one of commit and abandon. */
enum lds_status lds_whole_file_open(struct lds_whole_file *file, const char *path, struct lds_error *error);

/* Moves the file to its place, once every byte is known to be on the disk. After an error nothing is left behind, and
 * the previous file is still there. */
enum lds_status lds_whole_file_commit(struct lds_whole_file *file, struct lds_error *error);

/* Leaves nothing behind. */
void lds_whole_file_abandon(struct lds_whole_file *file);

#endif
