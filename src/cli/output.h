/* Where results go: checks before the work, and standard output after it. */
#ifndef CLI_OUTPUT_H
#define CLI_OUTPUT_H

#include <stdbool.h>

#include "command.h"
#include "loadside/error.h"

/* Checks as far as possible, without writing, that a result can go to path ("-": standard output); prints the reason if
 * not. subject: the option. */
bool output_check_file(const char *subject, const char *path);
bool output_check_folder(const char *subject, const char *path);

/* Whether the two paths name one regular file, which may not exist yet. "-" is not a file. */
bool output_same_file(const char *path, const char *other);

/* The path with that ending in place of its suffix, to be freed. NULL: no memory. */
char *output_beside(const char *path, const char *ending);

/* Reports once that writing to standard output failed; nothing if the reader closed it (it wanted no more). */
enum exit_status output_failed(const char *subject, const char *message);

/* Makes sure that descriptors 0 to 2 are open, so that none of our files gets one of them. */
void output_prepare(void);

/* Closes standard output. Only this shows a full disk. */
enum exit_status output_close(enum exit_status status);

#endif
