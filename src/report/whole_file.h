/* Output files that are there whole or not at all: written beside their place, synced, then renamed; to standard output
 * from memory. */
#ifndef LDS_REPORT_WHOLE_FILE_H
#define LDS_REPORT_WHOLE_FILE_H

#include <stdbool.h>
#include <stdio.h>

#include "loadside/error.h"
#include "scrap.h"

struct lds_whole_file { /* stays where it is while it is open */
    FILE *out;          /* where to write */
    char *path;         /* where it will stand, links followed */
    char *temporary;    /* where it stands meanwhile; NULL when written straight: "-", a device, a pipe */
    bool standard;      /* kept in scrap until it is whole, then printed */
    struct lds_scrap scrap;
};

/* Opens path ("-": standard output). On success exactly one of commit and abandon is to follow. */
enum lds_status lds_whole_file_open(struct lds_whole_file *file, const char *path, struct lds_error *error);

/* Puts the file in its place, once every byte is known to be on the disk. On error nothing is left behind, and what
 * stood there before still does. */
enum lds_status lds_whole_file_commit(struct lds_whole_file *file, struct lds_error *error);

/* Leaves nothing behind. */
void lds_whole_file_abandon(struct lds_whole_file *file);

#endif
