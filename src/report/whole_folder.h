/* Output folders that are there whole or not at all: made beside their place, then exchanged with what stood there. */
#ifndef LDS_REPORT_WHOLE_FOLDER_H
#define LDS_REPORT_WHOLE_FOLDER_H

#include "loadside/error.h"

struct lds_whole_folder {
    char *path;      /* where it will stand, links followed */
    char *temporary; /* where it is made */
    int lock;        /* held on it for as long as the run lives, by which others know that it is no left-over */
};

/* Whether a folder can be made there, or replaced: LDS_BAD_USE when it holds files and none of them says that loadside
 * made it. */
enum lds_status lds_whole_folder_check(const char *path, struct lds_error *error);

/* Begins a folder, after left-overs of runs that were killed are cleared away. On success exactly one of commit and
 * abandon is to follow. */
enum lds_status lds_whole_folder_open(struct lds_whole_folder *folder, const char *path, struct lds_error *error);

/* Puts the folder in its place. Files that stood there and that loadside did not make (its own are on a list in the
 * folder) stand in the new folder too. LDS_BAD_USE: such a file has the name of a new one. On error what stood there
 * still does, and nothing else is left. */
enum lds_status lds_whole_folder_commit(struct lds_whole_folder *folder, struct lds_error *error);

void lds_whole_folder_abandon(struct lds_whole_folder *folder);

#endif
