#include "report/job_words.h"

#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "grow.h"
#include "report/text.h"
#include "scarce.h"

void lds_row_of_words(struct lds_rows_of_words *rows, const char *name, const char *format, ...)
{
    struct lds_row_of_words made = {.name = strdup(name)}, *row;
    va_list args;
    va_start(args, format);
    if (vasprintf(&made.text, format, args) < 0)
        made.text = NULL;
    va_end(args);
    row = made.name && made.text ? lds_grow(&rows->row, &rows->count, sizeof *row) : NULL;
    if (row) {
        *row = made;
        return;
    }
    lds_scarce_note();
    free(made.name);
    free(made.text);
}

void lds_row_of_scrap(struct lds_rows_of_words *rows, const char *name, struct lds_scrap *scrap)
{
    if (lds_scrap_close(scrap) && scrap->text[0])
        lds_row_of_words(rows, name, "%s", scrap->text);
    free(scrap->text);
}

void lds_rows_of_words_free(struct lds_rows_of_words *rows)
{
    for (size_t i = 0; i < rows->count; i++) {
        free(rows->row[i].name);
        free(rows->row[i].text);
    }
    free(rows->row);
    *rows = (struct lds_rows_of_words){0};
}

void lds_table_of_words_add(struct lds_table_of_words *table, const char *const *cell)
{
    struct lds_cells_of_words *row = lds_grow(&table->row, &table->rows, sizeof *row);
    bool enough = row != NULL;
    for (size_t i = 0; row && i < table->columns; i++) {
        row->text[i] = strdup(cell[i]);
        enough = enough && row->text[i];
    }
    if (enough)
        return;
    lds_scarce_note();
    if (row) { /* a row is added completely or not at all */
        table->rows--;
        for (size_t i = 0; i < table->columns; i++)
            free(row->text[i]);
    }
}

void lds_table_of_words_free(struct lds_table_of_words *table)
{
    for (size_t i = 0; i < table->rows; i++)
        for (size_t c = 0; c < table->columns; c++)
            free(table->row[i].text[c]);
    free(table->row);
    *table = (struct lds_table_of_words){0};
}

struct lds_label lds_job_channel_words(const struct lds_sheet *sheet, int channel)
{
    return lds_channel_words(channel > 0 && channel <= LDS_CHANNELS_MAX ? sheet->channel_name[channel] : NULL, channel);
}
