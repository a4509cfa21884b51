/* Tables of a page: a caption, headings with their scope, and numbers aligned at the decimal point. */
#ifndef LDS_REPORT_HTML_TABLE_H
#define LDS_REPORT_HTML_TABLE_H

#include "report/html_tree.h"

enum lds_html_kind {
    LDS_HTML_LABEL,  /* text that heads its row */
    LDS_HTML_TEXT,   /* aligned left */
    LDS_HTML_RIGHT,  /* text, aligned right */
    LDS_HTML_NUMBER, /* aligned at its decimal point */
};

struct lds_html_column {
    const char *heading;
    enum lds_html_kind kind;
};

enum { LDS_HTML_COLUMNS = 12 };

struct lds_html_table {
    struct lds_html *html;
    const struct lds_html_column *column;
    size_t columns;
    size_t fraction[LDS_HTML_COLUMNS]; /* the longest part from the decimal point on */
    xmlNode *table, *body;
    size_t rows;
};

/* A table wider than the page scrolls by itself, and can then be reached by keyboard. */
void lds_html_table_open(struct lds_html_table *table, struct lds_html *html, xmlNode *parent, const char *caption,
                         const struct lds_html_column *column, size_t columns);

/* Rows under a heading of their own. */
void lds_html_table_group(struct lds_html_table *table, const char *heading);

/* A row with all its cells, NULL after the last; returns the first of them. */
xmlNode *lds_html_table_row(struct lds_html_table *table, const char *const *text);
#define LDS_HTML_CELLS(...) ((const char *const[]){__VA_ARGS__, NULL})

/* A remark in brackets and small print after the text of a cell; nothing for "". */
void lds_html_table_remark(struct lds_html_table *table, xmlNode *cell, const char *text);

/* Aligns the decimal points, after all rows were added. */
void lds_html_table_close(struct lds_html_table *table);

#endif
