/* Output folders that appear completely or not at all: made next to their place, then exchanged with what was there. */
#ifndef LDS_REPORT_WHOLE_FOLDER_H
#define LDS_REPORT_WHOLE_FOLDER_H

#include "loadside/error.h"

struct lds_whole_folder {
    char *path;      /* its final place, links followed */
    char *temporary; /* where it is made */
    int lock;        /* held as long as the run lives, which shows others that it is not a left-over */
};

/* Whether a folder can be made or replaced there: LDS_BAD_USE when it has files and none of them shows that loadside
 * made it. */
enum lds_status lds_whole_folder_check(const char *path, struct lds_error *error);

/* Begins a folder, after removing left-overs of runs that were killed. After success call exactly one of commit and
 * abandon. */
enum lds_status lds_whole_folder_open(struct lds_whole_folder *folder, const char *path, struct lds_error *error);

/* Moves the folder to its place. Files of the previous folder that loadside did not make (its own are on a list in the
 * folder) are kept in the new one. LDS_BAD_USE: such a file has the name of a new one. After an error the previous
 * folder is still there, and nothing else is left. */
enum lds_status lds_whole_folder_commit(struct lds_whole_folder *folder, struct lds_error *error);

void lds_whole_folder_abandon(struct lds_whole_folder *folder);

#endif
