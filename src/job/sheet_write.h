/* Writing sheets to fill in. */
#ifndef LDS_JOB_SHEET_WRITE_H
#define LDS_JOB_SHEET_WRITE_H

#include <stdio.h>

#include "job/keys.h"

/* "key = value ; comment, in unit". */
void lds_sheet_write_key(FILE *out, const char *name, const char *value, const char *comment, const char *unit);

/* What a sheet begins with. */
void lds_sheet_write_head(FILE *out);

/* The comment above a section and its name; of captures the comment alone. */
void lds_sheet_write_title(FILE *out, enum lds_sheet_section section);

/* The section with all its keys, empty. */
void lds_sheet_write_section(FILE *out, enum lds_sheet_section section);

/* Makes the file; write fills it. LDS_BAD_USE: it exists, and is left as it is; LDS_IO: it cannot be written. */
enum lds_status lds_sheet_create(const char *path, void (*write)(FILE *out, const void *context), const void *context,
                                 struct lds_error *error);

#endif
