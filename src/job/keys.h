/* The keys of a job sheet: one table for reading, checking, the sheet to fill in, and the test that compares it with
 * the documentation. The keys of [bench] are those of a bench file, those of [limits] those of a limits file. */
#ifndef LDS_JOB_KEYS_H
#define LDS_JOB_KEYS_H

#include <stdio.h>

#include "ini_key.h"
#include "loadside/job.h"

enum lds_sheet_section {
    LDS_SHEET_UNIT,
    LDS_SHEET_RATING,
    LDS_SHEET_JOB,
    LDS_SHEET_BENCH,
    LDS_SHEET_PARTS,
    LDS_SHEET_LIMITS,
    LDS_SHEET_CAPTURE,
    LDS_SHEET_EXPECT,
    LDS_SHEET_SECTIONS,
    LDS_SHEET_NOWHERE = LDS_SHEET_SECTIONS /* before any section, or in an unknown one */
};

/* "unit", ...; for a capture and what is expected, a name follows. */
const char *lds_sheet_section_name(enum lds_sheet_section section);

/* Only the names of channels are LDS_INI_OWN: the keys "channel 1" and so on. */
struct lds_sheet_key {
    enum lds_sheet_section section;
    struct lds_ini_key is; /* its offset is within struct lds_sheet, struct lds_sheet_capture or struct
                            * lds_sheet_expect */
};

const struct lds_sheet_key *lds_sheet_keys(size_t *count);

/* ---- writing sheets to fill in ---- */

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
