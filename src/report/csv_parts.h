/* Shared by the writers of CSV: cells after RFC 4180, in rows given as JSON objects. */
#ifndef LDS_REPORT_CSV_PARTS_H
#define LDS_REPORT_CSV_PARTS_H

#include <jansson.h>

#include "report/figures.h"
#include "whole_file.h"

struct lds_csv_sheet { /* must not be moved while it is open */
    const char *columns;
    struct lds_whole_file file;
    struct lds_point_locale locale;
};

/* Opens path ("-": standard output) and writes the heading: the names of the columns with commas between them, and a
 * line end. After success call lds_csv_finish, which moves the file to its place. */
enum lds_status lds_csv_begin(struct lds_csv_sheet *csv, const char *columns, const char *path,
                              struct lds_error *error);
enum lds_status lds_csv_finish(struct lds_csv_sheet *csv, struct lds_error *error);

/* Writes a row: the members of the two objects that have the name of a column; other columns stay empty, and so do
 * unknown values. The second object may be NULL. Both are freed. */
void lds_csv_row(struct lds_csv_sheet *csv, json_t *row, json_t *rest);

/* The label of a key, "" for an unknown one. */
const char *lds_csv_label(const char *key);

#endif
