/* A change on one line of a screen: label, word, change, interval, both values. */
#ifndef LDS_REPORT_CHANGE_LINE_H
#define LDS_REPORT_CHANGE_LINE_H

#include <stdio.h>

/* Columns of each; with the indent of 2 they make 80. before, after: those of the change up to its decimal point, and
 * from it on. */
struct lds_change_columns {
    int label, word, before, after, interval, values;
};

struct lds_change_line { /* a member that has nothing to show is "" */
    const char *label, *word, *number, *interval, *values;
    const char *unit; /* of change and interval, where the line does not stand below its heading */
};

/* "Left                          change, dB   before → after"; name may be of any length. */
void lds_change_line_heading(FILE *out, const struct lds_change_columns *columns, const char *name, const char *change);

/* What does not fit into its columns becomes a paragraph. */
void lds_change_line_print(FILE *out, const struct lds_change_columns *columns, const struct lds_change_line *line);

#endif
