/* A page of text, 80 columns wide on a screen. */
#ifndef LDS_REPORT_PAGE_H
#define LDS_REPORT_PAGE_H

#include <stdio.h>

enum { LDS_PAGE_COLUMNS = 80 };

/* Writes text padded with spaces to width columns. */
void lds_page_left(FILE *out, const char *text, int width);
void lds_page_right(FILE *out, const char *text, int width);

/* Writes a number into before + after columns, with its decimal point (or its end) after `before` of them. */
void lds_page_number(FILE *out, const char *number, int before, int after);

/* Writes a paragraph, escaped, each line indented, `hanging` more from the second line on; words longer than a line are
 * cut. Nothing for "". */
void lds_page_paragraph(FILE *out, int indent, int hanging, const char *format, ...)
    __attribute__((format(printf, 4, 5)));

#endif
