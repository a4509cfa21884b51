/* The page of a report as a libxml2 tree, which is written with everything escaped that must be. */
#ifndef LDS_REPORT_HTML_TREE_H
#define LDS_REPORT_HTML_TREE_H

#include <libxml/tree.h>
#include <stdbool.h>

#include "loadside/job.h"
#include "report/words.h"

struct lds_html {
    const struct lds_job *job;
    const char *plots; /* folder of the pictures; NULL: none */
    xmlDoc *doc;
    xmlNode *main;  /* where sections go */
    unsigned ids;   /* number of ids given out */
    unsigned drawn; /* number of pictures on the page */
    bool failed;    /* memory ran out: all later calls do nothing */
};

/* A copy fit for XML and HTML: invalid UTF-8, and each control and noncharacter that either forbids (XML 1.0, 2.2;
 * HTML, 13.2.3.5), becomes U+FFFD; a carriage return becomes a line feed. NULL: no memory. */
char *lds_html_clean(const char *text);

/* Appends a new element to parent. Every parent, node and text here may be NULL, and is then ignored. */
xmlNode *lds_html_add(struct lds_html *html, xmlNode *parent, const char *name);

/* The same with a class, NULL for none, and text. */
xmlNode *lds_html_element(struct lds_html *html, xmlNode *parent, const char *name, const char *style_class,
                          const char *text);

/* Appends text to an element. */
void lds_html_text(struct lds_html *html, xmlNode *node, const char *text);
void lds_html_format(struct lds_html *html, xmlNode *node, const char *format, ...)
    __attribute__((format(printf, 3, 4)));

void lds_html_attribute(struct lds_html *html, xmlNode *node, const char *name, const char *value);

/* Gives the element a unique id, and returns it. */
struct lds_short lds_html_id(struct lds_html *html, xmlNode *node);

/* Appends a section to the page, with its heading of the second level. */
xmlNode *lds_html_section(struct lds_html *html, const char *heading);

#endif
