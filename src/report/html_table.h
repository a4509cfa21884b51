/* Tables of a page: a caption, headings with their scope, and numbers whose decimal points stand under each other. */
#ifndef LDS_REPORT_HTML_TABLE_H
#define LDS_REPORT_HTML_TABLE_H

#include "report/html_tree.h"

enum lds_html_kind {
    LDS_HTML_LABEL,  /* text that heads its row */
    LDS_HTML_TEXT,   /* to the left */
    LDS_HTML_RIGHT,  /* text to the right */
    LDS_HTML_NUMBER, /* by its decimal point */
};

struct lds_html_column {
    const char *heading;
    enum lds_html_kind kind;
};

enum { LDS_HTML_COLUMNS = 8 };

struct lds_html_table {
    struct lds_html *html;
    const struct lds_html_column *column;
    size_t columns;
    size_t fraction[LDS_HTML_COLUMNS]; /* the longest part from the decimal point on */
    xmlNode *table, *body;
    size_t rows;
};

/* The table scrolls by itself where it is wider than the page, and can then be reached by keyboard. */
void lds_html_table_open(struct lds_html_table *table, struct lds_html *html, xmlNode *parent, const char *caption,
                         const struct lds_html_column *column, size_t columns);

/* Rows under a heading of their own. */
void lds_html_table_group(struct lds_html_table *table, const char *heading);

/* A row with all its cells, NULL after the last; returns the first of them. */
xmlNode *lds_html_table_row(struct lds_html_table *table, const char *const *text);
#define LDS_HTML_CELLS(...) ((const char *const[]){__VA_ARGS__, NULL})

/* In brackets and small print after what a cell says; nothing for "". */
void lds_html_table_remark(struct lds_html_table *table, xmlNode *cell, const char *text);

/* Lines the decimal points up, once all rows are there. */
void lds_html_table_close(struct lds_html_table *table);

#endif
