/* Trees of files below a folder, and paths in it. */
#ifndef LDS_REPORT_FOLDER_TREE_H
#define LDS_REPORT_FOLDER_TREE_H

#include <stdbool.h>
#include <stddef.h>

#include "loadside/error.h"

/* "FOLDER/NAME"; to be freed. NULL: no memory. */
char *lds_path_in(const char *folder, const char *format, ...) __attribute__((format(printf, 2, 3)));

/* Relative paths of the files below a folder, sorted; without folders. */
struct lds_file_list {
    size_t count;
    char **file;
};
void lds_file_list_free(struct lds_file_list *list);
enum lds_status lds_file_list_add(struct lds_file_list *list, const char *file, struct lds_error *error);
void lds_file_list_sort(struct lds_file_list *list);
bool lds_file_list_holds(const struct lds_file_list *list, const char *file);

/* LDS_IO: a folder cannot be read. */
enum lds_status lds_tree_list(const char *folder, struct lds_file_list *list, struct lds_error *error);

/* Removes the folder with everything below it; links are not followed. What cannot be removed stays. */
void lds_tree_remove(const char *folder);

/* Puts the files of one folder into another as well, except those on the list `without`: as hard links, or as copies
 * where links are not possible. Empty folders are left out. LDS_BAD_USE: there is another file of that name. */
enum lds_status lds_tree_carry(const char *from, const char *to, const struct lds_file_list *without,
                               struct lds_error *error);

#endif
