/* What parts imply as cells of a table, and beside it what was measured: the same in text and HTML. */
#ifndef LDS_REPORT_EXPECTED_CELLS_H
#define LDS_REPORT_EXPECTED_CELLS_H

#include <stdbool.h>
#include <stdio.h>

#include "loadside/error.h"
#include "loadside/job.h"
#include "report/words.h"

/* Value and limits in one unit, with the decimals that the limits support. */
struct lds_expected_cells {
    char value[32], low[32], high[32]; /* low and high: "" when there are none */
    char unit[24];
};
struct lds_expected_cells lds_expected_cells(const struct lds_expected *one);

/* Units that take a prefix here. */
bool lds_expected_has_prefix(const char *unit);

struct lds_beside_cells {
    struct lds_label label;            /* "before, left"; "after" when no channel has it */
    struct lds_expected_cells implied; /* of what the parts imply */
    char limits[72];                   /* "1.39 to 1.73", "at most"; "" when there are none */
    char measured[40], interval[96];   /* in the same unit: "1.61", "±0.05"; "-" when it is not measured */
    struct lds_short word;             /* "agrees", "differs by 0.4 Hz" */
};
struct lds_beside_cells lds_beside_cells(const struct lds_job *job, const struct lds_job_expected *one);

/* "input coupling: r 47 kohm; c 2.2 uF -> 10 uF ±10 %": a section of the sheet as it is written, not escaped; to be
 * freed. NULL: no memory. */
char *lds_beside_title(const struct lds_sheet_expect *expect);

/* Sentences below the tables, by number from 0: what is beside what, and what should be known of the kinds that the
 * sheet has. NULL: there are no more. */
const char *lds_beside_note(const struct lds_job *job, size_t number);

/* "Not measured: before: REASON." or NULL; to be freed. */
char *lds_beside_reason(const struct lds_job *job, const struct lds_job_expected *one);

/* ---- in the formats of a job's report; nothing where the sheet has none ---- */

/* The end of the rows that belong to the same section of the sheet as `first`. */
size_t lds_expected_section(const struct lds_job *job, size_t first);

void lds_expected_print(FILE *out, const struct lds_job *job);

struct lds_html;
void lds_html_expected(struct lds_html *html);

/* "loadside-expected" version 1. */
enum lds_status lds_expected_json(const struct lds_job *job, const char *path, struct lds_error *error);

#endif
