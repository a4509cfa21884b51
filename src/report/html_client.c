/* The first page of a report, for the client: one A4 page in print. */

#include "report/client.h"
#include "report/html_parts.h"
#include "report/html_table.h"

enum { WIDE = 2 }; /* so many channels stand side by side; more of them below each other */

/* ---- the table ---- */

/* Replaces the hyphen by a minus sign, which is as wide as the plus. */
static struct lds_label minus(const char *number)
{
    return lds_label("%s%s", number[0] == '-' ? "−" : "", number + (number[0] == '-'));
}

static void mark_change(struct lds_html *html, xmlNode *cell, size_t cells)
{
    for (size_t i = 0; cell && i < cells; i++)
        cell = cell->next;
    lds_html_attribute(html, cell, "class", "changed");
}

static bool has_moved(const struct lds_client_cell *cell, size_t cells)
{
    for (size_t c = 0; c < cells; c++)
        if (cell[c].of && (cell[c].of->word == LDS_LOWER || cell[c].of->word == LDS_HIGHER))
            return true;
    return false;
}

/* A row of a figure: of all channels side by side, or of one that is named. */
static void put_row(struct lds_html_table *table, const struct lds_client *client, const struct lds_client_row *row,
                    size_t first, size_t channels, bool named)
{
    const char *text[LDS_HTML_COLUMNS + 1] = {row->label.text};
    const struct lds_label name = lds_html_channel_name(table->html, client->channel[first]);
    const struct lds_client_cell *cell = &row->cell[first];
    struct lds_label change[WIDE];
    size_t cells = 1;
    if (named && !cell->of)
        return;
    if (named)
        text[cells++] = name.text;
    text[cells++] = row->unit;
    for (size_t c = 0; c < channels; c++) {
        change[c] = minus(cell[c].change.text);
        text[cells++] = cell[c].before.text;
        text[cells++] = cell[c].after.text;
        text[cells++] = change[c].text;
        text[cells++] = cell[c].interval.text;
    }
    text[cells++] = named ? lds_word_name(cell->of->word) : row->word;
    xmlNode *first_cell = lds_html_table_row(table, text);
    if (has_moved(cell, channels))
        mark_change(table->html, first_cell, cells - 1);
}

/* Up to WIDE channels stand side by side; with more, each channel has a row. */
static void put_changes(struct lds_html *html, xmlNode *parent, const struct lds_client *client)
{
    static const struct lds_html_column of_channel[] = {
        {"before", LDS_HTML_NUMBER}, {"after", LDS_HTML_NUMBER}, {"change, dB", LDS_HTML_NUMBER}, {"±", LDS_HTML_TEXT}};
    enum { OF_CHANNEL = sizeof of_channel / sizeof of_channel[0] };
    const bool named = client->channels > WIDE;
    const size_t beside = named ? 1 : client->channels;
    struct lds_html_column column[LDS_HTML_COLUMNS] = {{"figure", LDS_HTML_LABEL}};
    struct lds_html_table table;
    size_t columns = 1;
    if (named)
        column[columns++] = (struct lds_html_column){"channel", LDS_HTML_TEXT};
    column[columns++] = (struct lds_html_column){"unit", LDS_HTML_TEXT};
    for (size_t i = 0; i < beside * OF_CHANNEL; i++)
        column[columns++] = of_channel[i % OF_CHANNEL];
    column[columns++] = (struct lds_html_column){"result", LDS_HTML_TEXT};
    lds_html_table_open(&table, html, parent, "Before and after", column, columns);
    if (!named)
        lds_html_table_channels(&table, 2, client->channel, client->channels, OF_CHANNEL);
    for (size_t i = 0; i < client->rows; i++)
        for (size_t c = 0; c < client->channels; c += beside)
            put_row(&table, client, &client->row[i], c, beside, named);
    lds_html_table_close(&table);
}

/* What was found, where there is nothing to compare. */
static void put_measured(struct lds_html *html, xmlNode *parent, const struct lds_client *client)
{
    struct lds_html_column column[LDS_HTML_COLUMNS] = {{"figure", LDS_HTML_LABEL}};
    struct lds_label name[LDS_HTML_COLUMNS];
    struct lds_html_table table;
    size_t shown = client->channels < LDS_HTML_COLUMNS - 1 ? client->channels : LDS_HTML_COLUMNS - 1;
    for (size_t c = 0; c < shown; c++) {
        name[c] = lds_html_channel_name(html, client->channel[c]);
        column[c + 1] = (struct lds_html_column){name[c].text, LDS_HTML_RIGHT};
    }
    lds_html_table_open(&table, html, parent, "As measured", column, shown + 1);
    for (size_t i = 0; i < client->rows; i++) {
        const char *text[LDS_HTML_COLUMNS + 1] = {client->row[i].label.text};
        for (size_t c = 0; c < shown; c++)
            text[c + 1] = client->row[i].cell[c].after.text;
        lds_html_table_row(&table, text);
    }
    lds_html_table_close(&table);
}

void lds_html_client(struct lds_html *html)
{
    struct lds_client client;
    lds_client_make(&client, html->job);
    xmlNode *page = lds_html_element(html, html->main, "section", "client", NULL);
    xmlNode *header = lds_html_add(html, page, "header");
    lds_html_element(html, header, "h1", NULL, client.heading);
    lds_html_paragraph(html, header, NULL, client.about);
    lds_html_paragraph(html, page, "verdict", client.verdict);
    lds_html_paragraph(html, page, "beware", client.beware);
    lds_html_paragraph(html, page, "done", client.done);
    lds_html_paragraph(html, page, "done", client.limits);
    lds_html_paragraph(html, page, "done", client.power);
    if (client.rows > 0)
        (client.compared ? put_changes : put_measured)(html, page, &client);
    if (client.compared)
        lds_html_client_plot(html, page, &client);
    xmlNode *foot = lds_html_element(html, page, "div", "foot", NULL);
    lds_html_element(html, foot, "p", NULL, client.sure);
    lds_html_element(html, foot, "p", "sign", client.by);
    lds_client_free(&client);
}
