/* The parts of a report's page, in the order of the page. */
#ifndef LDS_REPORT_HTML_PARTS_H
#define LDS_REPORT_HTML_PARTS_H

#include "report/footnotes.h"
#include "report/html_table.h"
#include "report/job_words.h"
#include "report/text.h"

/* The style sheet: for a screen of any width, and for A4. */
extern const char *const lds_html_style;

/* The page for the client, and the picture on it. */
struct lds_client;
void lds_html_client(struct lds_html *html);
void lds_html_client_plot(struct lds_html *html, xmlNode *parent, const struct lds_client *client);

/* What the group shows: tables of changes, or of figures where there is one side alone. */
void lds_html_changes(struct lds_html *html, const struct lds_job_group *group);
void lds_html_figures(struct lds_html *html, const struct lds_job_group *group);

/* The limits of all groups in one table; nothing without limits. */
void lds_html_limits(struct lds_html *html);

/* Pictures, each with its message in words. */
void lds_html_plots(struct lds_html *html);

/* The job, and whether its captures are sound; conditions, method, uncertainty, definitions; files. */
void lds_html_front(struct lds_html *html, const struct lds_job_words *words);
void lds_html_back(struct lds_html *html, const struct lds_job_words *words);
void lds_html_files(struct lds_html *html);

/* ---- what they share ---- */

/* Pairs of a term and its text; a term that repeats is printed once. */
void lds_html_rows(struct lds_html *html, xmlNode *parent, const char *style_class,
                   const struct lds_rows_of_words *rows);

/* A paragraph for each line. */
void lds_html_lines(struct lds_html *html, xmlNode *parent, const struct lds_remarks *lines);

/* A paragraph with a class, NULL for none; nothing for "". */
void lds_html_paragraph(struct lds_html *html, xmlNode *parent, const char *style_class, const char *text);

/* "Left", or "Channel 1"; a caption: "Figures, sine, 10 W, left". */
struct lds_label lds_html_channel_name(const struct lds_html *html, int channel);
struct lds_sentence lds_html_caption(const struct lds_html *html, const char *what, const struct lds_job_group *group,
                                     int channel);

struct lds_html_place {
    struct lds_html *html;
    xmlNode *parent;
};

/* Opens a table with such a caption. */
void lds_html_table_begin(struct lds_html_table *table, struct lds_html_place place, const char *what,
                          const struct lds_job_group *group, int channel, const struct lds_html_column *column,
                          size_t columns);

/* Names of channels over their columns: `before` columns stand at the left of them, `span` belong to each. */
void lds_html_table_channels(struct lds_html_table *table, size_t before, const int *channel, size_t channels,
                             size_t span);

/* Notes under a table: each with its number. */
void lds_html_notes(struct lds_html *html, xmlNode *parent, const struct lds_footnotes *notes);

/* A small paragraph under a table, beginning with a capital. */
void lds_html_sentence(const struct lds_html_place *place, const char *text);

/* A listener that makes a paragraph of each sentence. */
struct lds_listener lds_html_listener(struct lds_html_place *place);

/* Appends the SVG at path to parent: with unique ids, without anything that could run or be fetched, and without the
 * captions at its top, which the page has itself. title, message: what it shows, and its message in words. false: it is
 * missing, or not an SVG. */
bool lds_html_svg(struct lds_html *html, xmlNode *parent, const char *path, const char *title, const char *message);

#endif
