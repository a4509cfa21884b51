/* What the parts imply, beside what was measured, in the formats of a job's report. Nothing where the sheet has none.
 */
#ifndef LDS_REPORT_EXPECTED_PARTS_H
#define LDS_REPORT_EXPECTED_PARTS_H

#include <stdio.h>

#include "loadside/error.h"
#include "loadside/job.h"

/* The end of the rows that belong to the same section of the sheet as `first`. */
size_t lds_expected_section(const struct lds_job *job, size_t first);

void lds_expected_print(FILE *out, const struct lds_job *job);

struct lds_html;
void lds_html_expected(struct lds_html *html);

/* "loadside-expected" version 1. */
enum lds_status lds_expected_json(const struct lds_job *job, const char *path, struct lds_error *error);

#endif
