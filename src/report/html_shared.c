/* What the parts of a page share. */
#include <ctype.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "report/html_parts.h"

void lds_html_rows(struct lds_html *html, xmlNode *parent, const char *style_class,
                   const struct lds_rows_of_words *rows)
{
    if (rows->count == 0)
        return;
    xmlNode *list = lds_html_element(html, parent, "dl", style_class, NULL);
    for (size_t i = 0; i < rows->count; i++) {
        if (i == 0 || strcmp(rows->row[i].name, rows->row[i - 1].name) != 0)
            lds_html_element(html, list, "dt", NULL, rows->row[i].name);
        lds_html_element(html, list, "dd", NULL, rows->row[i].text);
    }
}

void lds_html_lines(struct lds_html *html, xmlNode *parent, const struct lds_remarks *lines)
{
    for (size_t i = 0; i < lines->count; i++)
        lds_html_paragraph(html, parent, lines->line[i]);
}

void lds_html_list(struct lds_html *html, xmlNode *parent, char *const *line, size_t count)
{
    xmlNode *list = count > 0 ? lds_html_add(html, parent, "ul") : NULL;
    for (size_t i = 0; i < count; i++)
        lds_html_element(html, list, "li", NULL, line[i]);
}

void lds_html_paragraph(struct lds_html *html, xmlNode *parent, const char *text)
{
    if (text && text[0])
        lds_html_element(html, parent, "p", NULL, text);
}

void lds_html_channel_heading(struct lds_html *html, xmlNode *section, int channel)
{
    char words[160];
    lds_job_channel_words(html->job->sheet, channel, words, sizeof words);
    words[0] = (char)toupper((unsigned char)words[0]);
    lds_html_element(html, section, "h3", NULL, words);
}

void lds_html_caption(const struct lds_html *html, const char *what, const struct lds_job_group *group, int channel,
                      char *caption, size_t size)
{
    char words[160] = "";
    if (channel > 0)
        lds_job_channel_words(html->job->sheet, channel, words, sizeof words);
    snprintf(caption, size, "%s, %s%s%s", what, group->title, words[0] ? ", " : "", words);
}

void lds_html_table_begin(struct lds_html_table *table, struct lds_html_place place, const char *what,
                          const struct lds_job_group *group, int channel, const struct lds_html_column *column,
                          size_t columns)
{
    char caption[400];
    lds_html_caption(place.html, what, group, channel, caption, sizeof caption);
    lds_html_table_open(table, place.html, place.parent, caption, column, columns);
}

static void hear(void *context, const char *sentence)
{
    const struct lds_html_place *place = context;
    lds_html_paragraph(place->html, place->parent, sentence);
}

struct lds_listener lds_html_listener(struct lds_html_place *place)
{
    return (struct lds_listener){hear, place};
}
