/* What the parts of a page share. */
#include <stdlib.h>
#include <string.h>

#include "hz_words.h"
#include "report/html_parts.h"
#include "scrap.h"

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
        lds_html_paragraph(html, parent, NULL, lines->line[i]);
}

/* A line never ends between a number and its unit: the blank is U+00A0. */
void lds_html_paragraph(struct lds_html *html, xmlNode *parent, const char *style_class, const char *text)
{
    struct lds_scrap joined;
    if (!text || !text[0] || !lds_scrap_open(&joined))
        return;
    for (const char *at = text; *at; at++)
        fputs(lds_before_unit(text, at) ? "\u00a0" : (const char[]){*at, '\0'}, joined.out);
    if (lds_scrap_close(&joined))
        lds_html_element(html, parent, "p", style_class, joined.text);
    free(joined.text);
}

/* Capitalises only ASCII letters: for others the capital is not known here. */
static void begin_large(char *text)
{
    if (text[0] >= 'a' && text[0] <= 'z')
        text[0] = (char)(text[0] - 'a' + 'A');
}

struct lds_label lds_html_channel_name(const struct lds_html *html, int channel)
{
    struct lds_label name = lds_job_channel_words(html->job->sheet, channel);
    begin_large(name.text);
    return name;
}

struct lds_sentence lds_html_caption(const struct lds_html *html, const char *what, const struct lds_job_group *group,
                                     int channel)
{
    const struct lds_label words =
        channel > 0 ? lds_job_channel_words(html->job->sheet, channel) : (struct lds_label){""};
    return lds_sentence("%s, %s%s%s", what, group->title, words.text[0] ? ", " : "", words.text);
}

void lds_html_table_begin(struct lds_html_table *table, struct lds_html_place place, const char *what,
                          const struct lds_job_group *group, int channel, const struct lds_html_column *column,
                          size_t columns)
{
    lds_html_table_open(table, place.html, place.parent, lds_html_caption(place.html, what, group, channel).text,
                        column, columns);
}

void lds_html_table_channels(struct lds_html_table *table, size_t before, const int *channel, size_t channels,
                             size_t span)
{
    struct lds_html *html = table->html;
    xmlNode *head = table->table ? xmlGetLastChild(table->table) : NULL;
    xmlNode *first = head ? head->children : NULL;
    size_t after = table->columns - before - channels * span;
    if (!first)
        return;
    xmlNode *row = lds_html_add(html, head, "tr");
    lds_html_attribute(html, row, "class", "names");
    lds_html_attribute(html, lds_html_add(html, row, "td"), "colspan", lds_short("%zu", before).text);
    for (size_t c = 0; c < channels; c++) {
        xmlNode *cell = lds_html_element(html, row, "th", NULL, lds_html_channel_name(html, channel[c]).text);
        lds_html_attribute(html, cell, "colspan", lds_short("%zu", span).text);
        lds_html_attribute(html, cell, "scope", "colgroup");
    }
    for (size_t i = 0; i < after; i++)
        lds_html_add(html, row, "td");
    if (row && !html->failed)
        xmlAddPrevSibling(first, row);
}

void lds_html_notes(struct lds_html *html, xmlNode *parent, const struct lds_footnotes *notes)
{
    for (size_t i = 0; i < notes->count; i++)
        lds_html_format(html, lds_html_element(html, parent, "p", "note", NULL), "%s %s",
                        lds_footnote_number(i + 1).text, notes->sentence[i]);
}

void lds_html_sentence(const struct lds_html_place *place, const char *text)
{
    char *copy = lds_made("%s", text);
    if (copy) {
        begin_large(copy);
        lds_html_element(place->html, place->parent, "p", "note", copy);
    }
    free(copy);
}

static void hear(void *context, const char *sentence)
{
    const struct lds_html_place *place = context;
    lds_html_paragraph(place->html, place->parent, NULL, sentence);
}

struct lds_listener lds_html_listener(struct lds_html_place *place)
{
    return (struct lds_listener){hear, place};
}
