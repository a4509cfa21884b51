/* The client's page as text: what the command says of a job, and how its report as text begins. */
#include <stdio.h>
#include <stdlib.h>

#include "report/change_line.h"
#include "report/client.h"
#include "report/comparison_cells.h"
#include "report/page.h"
#include "report/text.h"
#include "safe_text.h"

static const struct lds_change_columns columns = {36, 9, 4, 3, 7, 19};

static void print_paragraph(FILE *out, const char *text)
{
    if (text && text[0]) {
        lds_page_paragraph(out, 0, 0, "%s", text);
        fputc('\n', out);
    }
}

static void print_name(FILE *out, const struct lds_sheet *sheet, int channel, bool compared)
{
    const char *given = sheet->channel_name[channel];
    char *safe = given ? lds_words_escape(given) : NULL;
    const struct lds_label name = lds_channel_title(safe, channel);
    free(safe);
    if (compared)
        lds_change_line_heading(out, &columns, name.text, "change, dB");
    else
        fprintf(out, "%s\n", name.text);
}

static void print_row(FILE *out, const struct lds_client_row *row, const struct lds_client_cell *cell)
{
    const struct lds_label values = lds_label("%s → %s %s", cell->before.text, cell->after.text, row->unit);
    lds_change_line_print(out, &columns,
                          &(struct lds_change_line){row->label.text, lds_word_short(cell->of->word), cell->change.text,
                                                    cell->interval.text, values.text,
                                                    row->decibels ? "dB" : row->unit});
}

static void print_table(FILE *out, const struct lds_client *client, const struct lds_sheet *sheet)
{
    for (size_t c = 0; c < client->channels; c++) {
        print_name(out, sheet, client->channel[c], client->compared);
        for (size_t i = 0; i < client->rows; i++) {
            const struct lds_client_row *row = &client->row[i];
            const struct lds_client_cell *cell = &row->cell[c];
            if (cell->of) {
                print_row(out, row, cell);
            } else if (!client->compared && cell->after.text[0]) {
                fputs("  ", out);
                lds_page_left(out, row->label.text, columns.label);
                fprintf(out, "%s\n", cell->after.text);
            }
        }
        fputc('\n', out);
    }
}

void lds_client_print(FILE *out, const struct lds_job *job)
{
    struct lds_client client;
    lds_client_make(&client, job);
    lds_page_paragraph(out, 0, 0, "%s", client.heading ? client.heading : "");
    print_paragraph(out, client.about);
    print_paragraph(out, client.verdict);
    print_paragraph(out, client.beware);
    print_table(out, &client, job->sheet);
    print_paragraph(out, client.limits);
    print_paragraph(out, client.power);
    print_paragraph(out, client.done);
    print_paragraph(out, client.sure);
    lds_client_free(&client);
}
