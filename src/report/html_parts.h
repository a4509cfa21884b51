/* The parts of a report's page, in the order of the page. */
#ifndef LDS_REPORT_HTML_PARTS_H
#define LDS_REPORT_HTML_PARTS_H

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

/* Other observations: figures that are not judged, and what could not be compared. */
void lds_html_shown(struct lds_html *html, const struct lds_job_group *group, xmlNode *section);

/* Pictures, each with its message in words. */
void lds_html_plots(struct lds_html *html);

/* Title and particulars, the answer, cautions, whether the recordings can be trusted; then conditions, method,
 * uncertainty, definitions, figures that are not judged; files. */
void lds_html_front(struct lds_html *html, const struct lds_job_words *words);
void lds_html_back(struct lds_html *html, const struct lds_job_words *words);
void lds_html_files(struct lds_html *html);

/* ---- what they share ---- */

/* Pairs of a term and its text; a term that repeats is printed once. */
void lds_html_rows(struct lds_html *html, xmlNode *parent, const char *style_class,
                   const struct lds_rows_of_words *rows);

/* A paragraph for each line. */
void lds_html_lines(struct lds_html *html, xmlNode *parent, const struct lds_remarks *lines);
void lds_html_list(struct lds_html *html, xmlNode *parent, char *const *line, size_t count);

/* A paragraph; nothing for "". */
void lds_html_paragraph(struct lds_html *html, xmlNode *parent, const char *text);

/* "Channel 1, left", and a caption: "Changes, sine, 10 W, channel 1, left". */
void lds_html_channel_heading(struct lds_html *html, xmlNode *section, int channel);
void lds_html_caption(const struct lds_html *html, const char *what, const struct lds_job_group *group, int channel,
                      char *caption, size_t size);

struct lds_html_place {
    struct lds_html *html;
    xmlNode *parent;
};

/* Opens a table with such a caption. */
void lds_html_table_begin(struct lds_html_table *table, struct lds_html_place place, const char *what,
                          const struct lds_job_group *group, int channel, const struct lds_html_column *column,
                          size_t columns);

/* A listener that makes a paragraph of each sentence. */
struct lds_listener lds_html_listener(struct lds_html_place *place);

#endif
