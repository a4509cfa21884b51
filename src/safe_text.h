/* Makes text from outside safe for an output, and measures its width on a screen. */
#ifndef LDS_SAFE_TEXT_H
#define LDS_SAFE_TEXT_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "loadside/report.h"

/* The next character of UTF-8 text and its length in bytes (*bytes; 1 for a byte that is not UTF-8, which gives U+FFFD;
 * 0 at the end). */
uint32_t lds_utf8_next(const char *text, size_t *bytes);

/* A copy in valid UTF-8: each invalid byte becomes U+FFFD. NULL: no memory. */
char *lds_words_clean(const char *text);

/* Whether a character must not reach a terminal unchanged: controls, and marks that change the writing direction. */
bool lds_character_is_unsafe(uint32_t code);

/* Like lds_words_escape, which is public, but leaves white space unchanged. */
char *lds_words_escape_dark(const char *text);

/* Columns on a screen: combining marks 0, East Asian wide characters 2 (Unicode Standard Annex #11, abridged). */
int lds_words_width(const char *text);

#endif
