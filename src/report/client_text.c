/* The client's page as text: what the command says of a job, and how its report as text begins. */
#include <ctype.h>
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
    char name[160];
    const char *given = sheet->channel_name[channel];
    char *safe = given ? lds_words_escape(given) : NULL;
    if (safe)
        snprintf(name, sizeof name, "%s", safe);
    else
        snprintf(name, sizeof name, "channel %d", channel);
    free(safe);
    name[0] = (char)toupper((unsigned char)name[0]);
    if (compared)
        lds_change_line_heading(out, &columns, name, "change, dB");
    else
        fprintf(out, "%s\n", name);
}

static void print_row(FILE *out, const struct lds_client_row *row, const struct lds_client_cell *cell)
{
    const struct lds_label values = lds_label("%s → %s %s", cell->before, cell->after, row->unit);
    lds_change_line_print(out, &columns,
                          &(struct lds_change_line){row->label.text, lds_word_short(cell->of->word), cell->change,
                                                    cell->interval, values.text, row->decibels ? "dB" : row->unit});
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
            } else if (!client->compared && cell->after[0]) {
                fputs("  ", out);
                lds_page_left(out, row->label.text, columns.label);
                fprintf(out, "%s\n", cell->after);
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
