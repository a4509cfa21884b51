#include "report/html_beside.h"

const struct lds_html_column lds_html_judged[LDS_HTML_JUDGED] = {{"before", LDS_HTML_NUMBER},
                                                                 {"after", LDS_HTML_NUMBER},
                                                                 {"change, dB", LDS_HTML_NUMBER},
                                                                 {"±", LDS_HTML_TEXT},
                                                                 {"result", LDS_HTML_TEXT}};

void lds_html_beside_open(struct lds_html_beside *table, struct lds_html_place place, const int *channel,
                          size_t channels, const struct lds_html_beside_form *form)
{
    size_t columns = 0;
    *table = (struct lds_html_beside){.place = place};
    table->column[columns++] = (struct lds_html_column){form->label, LDS_HTML_LABEL};
    if (form->one_unit)
        table->column[columns++] = (struct lds_html_column){"unit", LDS_HTML_TEXT};
    const size_t lead = columns;
    for (size_t c = 0; c < channels; c++)
        for (size_t i = 0; i < form->columns; i++)
            table->column[columns++] = form->column[i];
    lds_html_table_begin(&table->table, place, form->caption, form->group, 0, table->column, columns);
    lds_html_table_channels(&table->table, lead, channel, channels, form->columns);
}

void lds_html_beside_close(struct lds_html_beside *table)
{
    lds_html_table_close(&table->table);
    lds_html_notes(table->place.html, table->place.parent, &table->notes);
    lds_footnotes_free(&table->notes);
}

struct lds_sentence lds_html_marked(const char *label, const char *marks)
{
    return lds_sentence("%s%s%s", label, marks[0] ? " " : "", marks);
}

static void hear(void *context, const char *sentence)
{
    char marks[LDS_MARKS_SIZE] = "";
    lds_footnote(context, sentence, marks);
}

struct lds_listener lds_html_once_listener(struct lds_footnotes *once)
{
    return (struct lds_listener){hear, once};
}

void lds_html_once_put(struct lds_footnotes *once, const struct lds_html_place *place)
{
    for (size_t i = 0; i < once->count; i++)
        lds_html_sentence(place, once->sentence[i]);
    lds_footnotes_free(once);
}
