/* Messages on standard error. */
#ifndef CLI_SAY_H
#define CLI_SAY_H

#include <stdbool.h>
#include <stdio.h>

#include "loadside/error.h"

/* Prints "loadside: SUBJECT: ..." and a newline, always in one line, as control characters in names are escaped.
 * Returns false, for a caller that then gives up. */
bool say(const char *subject, const char *format, ...) __attribute__((format(printf, 2, 3)));

/* Prints the library's message about path, which may begin with its name; "-" is called "standard input". Returns
 * false. */
bool say_about(const char *path, const char *message);

/* Whether it succeeded; prints the message about path if not. */
bool say_unless(enum lds_status status, const char *path, const struct lds_error *error);

/* Copies text with control characters as \n, \t or \xNN and the rest as lds_words_escape does; text that does not fit
 * is cut. */
void say_escaped(const char *text, char *line, size_t size);

#endif
