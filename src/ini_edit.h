/* Changing single values in the text of an INI file. */
#ifndef LDS_INI_EDIT_H
#define LDS_INI_EDIT_H

#include <stddef.h>

/* A copy of the text in which the key of that section has the value: in place of the old one, with the blanks and the
 * comment beside it kept; or in a new line after the last key of the section; or in a new section at the end. Line ends
 * are those of the text. old (may be NULL): what it was, "" if it was not there. To be freed. NULL: no memory. */
char *lds_ini_edit(const char *text, const char *section, const char *key, const char *value, char *old, size_t size);

#endif
