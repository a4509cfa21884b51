/* What the writers of CSV share: cells as RFC 4180 has them, in rows that are given as JSON objects. */
#ifndef LDS_REPORT_CSV_PARTS_H
#define LDS_REPORT_CSV_PARTS_H

#include <jansson.h>

#include "report/figures.h"
#include "report/whole_file.h"

struct lds_csv_sheet { /* stays where it is while it is open */
    const char *columns;
    struct lds_whole_file file;
    struct lds_point_locale locale;
};

/* Opens path ("-": standard output) and writes the heading: the names of the columns with commas between them, and what
 * ends a line. On success lds_csv_finish is to follow, which puts the file in its place. */
enum lds_status lds_csv_begin(struct lds_csv_sheet *csv, const char *columns, const char *path,
                              struct lds_error *error);
enum lds_status lds_csv_finish(struct lds_csv_sheet *csv, struct lds_error *error);

/* A row: the members of the two objects that are called as a column; the rest of the columns stay empty, and so does
 * what is unknown. The second object may be NULL. Both are freed. */
void lds_csv_row(struct lds_csv_sheet *csv, json_t *row, json_t *rest);

/* The label of a key, "" for an unknown one. */
const char *lds_csv_label(const char *key);

#endif
