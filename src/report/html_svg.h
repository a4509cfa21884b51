/* Pictures inside a page. */
#ifndef LDS_REPORT_HTML_SVG_H
#define LDS_REPORT_HTML_SVG_H

#include "report/html_tree.h"

/* Appends the SVG at path to parent: with unique ids, without anything that could run or be fetched, and without the
 * captions at its top, which the page has itself. title, message: what it shows, and its message in words. false: it is
 * missing, or not an SVG. */
bool lds_html_svg(struct lds_html *html, xmlNode *parent, const char *path, const char *title, const char *message);

#endif
