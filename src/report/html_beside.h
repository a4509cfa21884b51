/* Tables of a page with two channels side by side, and the notes under them. */
#ifndef LDS_REPORT_HTML_BESIDE_H
#define LDS_REPORT_HTML_BESIDE_H

#include "report/change_rows.h"
#include "report/footnotes.h"
#include "report/html_parts.h"

/* The columns of a channel where changes are judged. */
enum { LDS_HTML_JUDGED = 5 };
extern const struct lds_html_column lds_html_judged[LDS_HTML_JUDGED];

struct lds_html_beside {
    struct lds_html_place place;
    struct lds_html_table table;
    struct lds_html_column column[LDS_HTML_COLUMNS];
    struct lds_footnotes notes;
};

struct lds_html_beside_form {
    const char *caption, *label; /* "Changes"; heading of the first column */
    const struct lds_job_group *group;
    const struct lds_html_column *column; /* of each channel, after the label and the unit */
    size_t columns;
    bool one_unit; /* of all channels, in the second column */
};

void lds_html_beside_open(struct lds_html_beside *table, struct lds_html_place place, const int *channel,
                          size_t channels, const struct lds_html_beside_form *form);
/* With the notes under it. */
void lds_html_beside_close(struct lds_html_beside *table);

/* "THD ¹": a label with the numbers of its notes. */
struct lds_sentence lds_html_marked(const char *label, const char *marks);

/* Sentences about channels, each of which is printed once. */
struct lds_listener lds_html_once_listener(struct lds_footnotes *once);
void lds_html_once_put(struct lds_footnotes *once, const struct lds_html_place *place);

/* ---- lines and curves of a group that was compared ---- */

/* Single lines that changed; where a curve changed. */
void lds_html_line_changes(const struct lds_html_place *place, const struct lds_job_group *group,
                           const struct lds_beside *beside);
void lds_html_axes(const struct lds_html_place *place, const struct lds_comparison *comparison);

#endif
