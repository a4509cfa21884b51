#include "report/html_beside.h"

#include <stdio.h>

const struct lds_html_column lds_html_judged[LDS_HTML_JUDGED] = {{"before", LDS_HTML_NUMBER},
                                                                 {"after", LDS_HTML_NUMBER},
                                                                 {"change, dB", LDS_HTML_NUMBER},
                                                                 {"±", LDS_HTML_TEXT},
                                                                 {"result", LDS_HTML_TEXT}};

void lds_html_beside_open(struct lds_html_beside *table, struct lds_html_place place, const struct lds_beside *beside,
                          const struct lds_html_beside_form *form)
{
    size_t columns = 2;
    *table = (struct lds_html_beside){.place = place};
    table->column[0] = (struct lds_html_column){form->label, LDS_HTML_LABEL};
    table->column[1] = (struct lds_html_column){"unit", LDS_HTML_TEXT};
    for (size_t c = 0; c < beside->channels; c++)
        for (size_t i = 0; i < form->columns; i++)
            table->column[columns++] = form->column[i];
    lds_html_table_begin(&table->table, place, form->caption, form->group, 0, table->column, columns);
    int number[LDS_SIDE_BY_SIDE];
    for (size_t c = 0; c < beside->channels; c++)
        number[c] = beside->channel[c]->channel;
    lds_html_table_channels(&table->table, 2, number, beside->channels, form->columns);
}

void lds_html_beside_close(struct lds_html_beside *table)
{
    lds_html_table_close(&table->table);
    lds_html_notes(table->place.html, table->place.parent, &table->notes);
    lds_footnotes_free(&table->notes);
}

const char *lds_html_marked(const char *label, const char *marks, char *text, size_t size)
{
    snprintf(text, size, "%s%s%s", label, marks[0] ? " " : "", marks);
    return text;
}
