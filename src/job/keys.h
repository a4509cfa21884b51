/* The keys of a job sheet: one table drives reading, checking, the sheet to fill in, and the test that the
 * documentation agrees. The keys of [bench] are those of a bench file, those of [limits] those of a limits file. */
#ifndef LDS_JOB_KEYS_H
#define LDS_JOB_KEYS_H

#include <stdbool.h>
#include <stddef.h>

#include "loadside/job.h"

enum lds_sheet_section {
    LDS_SHEET_UNIT,
    LDS_SHEET_RATING,
    LDS_SHEET_JOB,
    LDS_SHEET_BENCH,
    LDS_SHEET_PARTS,
    LDS_SHEET_LIMITS,
    LDS_SHEET_CAPTURE,
    LDS_SHEET_SECTIONS,
    LDS_SHEET_NOWHERE = LDS_SHEET_SECTIONS /* before any section, or in one that is not known */
};

/* "unit", ...; that of a capture is followed by its name. */
const char *lds_sheet_section_name(enum lds_sheet_section section);

enum lds_sheet_kind {
    LDS_SHEET_TEXT,
    LDS_SHEET_LINES, /* text that indented lines go on with */
    LDS_SHEET_DATE,
    LDS_SHEET_QUANTITY,
    LDS_SHEET_WHOLE,
    LDS_SHEET_RANGE, /* two quantities, the second after the first */
    LDS_SHEET_ROLE,
    LDS_SHEET_WHEN,
    LDS_SHEET_CHANNEL_NAME, /* its key is "channel 1" and so on */
};

struct lds_sheet_key {
    enum lds_sheet_section section;
    const char *name;
    enum lds_sheet_kind kind;
    const char *unit;               /* of a quantity, "" when it has none */
    size_t offset;                  /* in struct lds_sheet, or in struct lds_sheet_capture */
    double low, high;               /* of a quantity or whole number, both included */
    bool above_low;                 /* low itself is out of range */
    const char *fallback, *meaning; /* in words, for the documentation and the sheet to fill in */
};

const struct lds_sheet_key *lds_sheet_keys(size_t *count);

#endif
