/* What the writers of CSV share: cells as RFC 4180 has them. Unknown is an empty cell. */
#ifndef LDS_REPORT_CSV_PARTS_H
#define LDS_REPORT_CSV_PARTS_H

#include <stdbool.h>
#include <stdio.h>

/* A cell of text. One that a spreadsheet would take for a formula gets a quote before it. false: no memory. */
bool lds_csv_text(FILE *out, const char *text);

/* A comma, then a number or nothing. */
void lds_csv_number(FILE *out, double number);

/* A comma, then the words of the flags with "; " between them. */
void lds_csv_flags(FILE *out, unsigned flags);

/* The label of a key, "" for an unknown one. */
const char *lds_csv_label(const char *key);

#endif
