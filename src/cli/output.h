/* Where results go: checks before the work, and the one standard output after it. */
#ifndef CLI_OUTPUT_H
#define CLI_OUTPUT_H

#include <stdbool.h>

#include "command.h"
#include "loadside/error.h"

/* Whether a result can go to path ("-": standard output) as far as can be told without writing; says why not. subject
 * is the option. */
bool output_check_file(const char *subject, const char *path);
bool output_check_folder(const char *subject, const char *path);

/* Whether the two paths name one regular file, which may still be missing. "-" is no file. */
bool output_same_file(const char *path, const char *other);

/* Says that writing to standard output failed, once, or nothing when the reader has gone (it wanted no more). */
enum exit_status output_failed(const char *subject, const char *message);

/* Makes sure that descriptors 0 to 2 are open, so that no file of ours lands on one of them. */
void output_prepare(void);

/* Closes standard output. A full disk shows only here. */
enum exit_status output_close(enum exit_status status);

#endif
