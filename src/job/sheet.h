/* A sheet while it is read: sheet.c takes its lines, sheet_values.c the values, and sheet_whole.c finds what single
 * lines cannot show. */
#ifndef LDS_JOB_SHEET_H
#define LDS_JOB_SHEET_H

#include "job/keys.h"
#include "job/remarks.h"

enum { LDS_SHEET_CAPTURES_MAX = 512 };

struct lds_stated { /* a key that was stated, or a key and value to be taken later */
    enum lds_sheet_section section;
    int section_line, channel;
    char *name, *value; /* value: NULL when it was taken already, "" for an empty one */
    int line;
};

struct lds_sheet_reading {
    struct lds_sheet *sheet;
    struct lds_faults faults;
    struct lds_limits limits;
    int line; /* being read */
    enum lds_sheet_section section;
    int section_line;
    int channel; /* of a section [channel N], whose keys are those of [bench]; else 0 */
    char **text; /* what an indented line continues; NULL: nothing */
    size_t stateds;
    struct lds_stated *stated;
};

/* Takes a key and value of the current section. */
void lds_sheet_take(struct lds_sheet_reading *reading, const char *name, const char *value);

/* Takes an indented line. */
void lds_sheet_go_on(struct lds_sheet_reading *reading, const char *name, const char *value);

/* Where a key was stated in the section that starts at a line, or NULL. */
const struct lds_stated *lds_sheet_stated(const struct lds_sheet_reading *reading, int section_line, const char *name);

/* Begins the section [expect NAME]; false: no memory. */
bool lds_sheet_expect_begin(struct lds_sheet_reading *reading, const char *name);

/* What the sections [expect NAME] state, once all lines are read. A section in which nothing is stated is left out. */
void lds_sheet_expects(struct lds_sheet_reading *reading);
void lds_sheet_expect_free(struct lds_sheet_expect *expect);

/* Where "10 uF -> 22 uF" (or a real arrow) is split: the text before the arrow ends at *before, the text after it is
 * returned; NULL: there is no arrow. */
const char *lds_sheet_arrow(const char *value, size_t *before);

/* Benches, paths, and what is wrong with the sheet as a whole. */
void lds_sheet_whole(struct lds_sheet_reading *reading);

#endif
