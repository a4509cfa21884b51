/* Pictures inside a page. */
#ifndef LDS_REPORT_HTML_SVG_H
#define LDS_REPORT_HTML_SVG_H

#include "report/html_tree.h"

/* Puts the SVG at path at the end of parent: with ids of its own, without what could run or be fetched, and without the
 * captions at its top, which the page has itself. title, message: what it shows, and what it says, in words. false: it
 * is not there, or is no SVG. */
bool lds_html_svg(struct lds_html *html, xmlNode *parent, const char *path, const char *title, const char *message);

#endif
