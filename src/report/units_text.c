/* Units side by side for people: 80 columns, a figure per row, units in columns, in blocks if there are many. */
#include <stdlib.h>
#include <string.h>

#include "loadside/report.h"
#include "report/figures.h"
#include "report/page.h"
#include "report/row_scale.h"
#include "report/text.h"

/* indent 2, label, unit, then columns of one width and a mark: 78 in all. */
enum { LABEL = 35, UNIT = 9, COLUMN = 8, COLUMNS = 4 };

/* The mark of a cell is printed in the first column of the next one. */
static void print_cell(FILE *out, const char *text, bool after_mark, bool marked)
{
    lds_page_right(out, text, after_mark ? COLUMN - 1 : COLUMN);
    if (marked)
        fputc('*', out);
}

static void print_row(FILE *out, const struct lds_unit_row *row, bool keys, int first, int last)
{
    struct lds_row_scale scale;
    const struct lds_label label = keys ? lds_label("%s", row->key) : lds_text_label(row->key, NULL);
    lds_row_scale_make(&scale, row, COLUMN - (row->stands_out >= 0 ? 1 : 0));
    lds_text_label_column(out, label.text, LABEL);
    lds_page_left(out, scale.unit, UNIT);
    for (int i = first; i <= last; i++) {
        print_cell(out, lds_row_scale_words(&scale, row, i).text, i > first && i > 0 && row->stands_out == i - 1,
                   i >= 0 && row->stands_out == i);
    }
    fputc('\n', out);
}

static void print_block(FILE *out, const struct lds_unit_row *const *row, size_t rows, bool keys, int first, int last)
{
    fprintf(out, "\n%*s", 2 + LABEL + UNIT, "");
    for (int i = first; i <= last; i++) {
        char name[32];
        snprintf(name, sizeof name, "unit %d", i + 1);
        print_cell(out, i == LDS_ROW_MIDDLE ? "middle" : i == LDS_ROW_SPREAD ? "spread" : name, false, false);
    }
    fputc('\n', out);
    for (size_t i = 0; i < rows; i++)
        if (!row[i]->name.row->restates)
            print_row(out, row[i], keys, first, last);
}

static bool any_stands_out(const struct lds_unit_table *table)
{
    for (size_t i = 0; i < table->rows; i++)
        if (table->row[i].stands_out >= 0)
            return true;
    return false;
}

static void print_table(FILE *out, const struct lds_unit_table *table, bool keys)
{
    const struct lds_unit_row **row = lds_unit_rows_sorted(table->row, table->rows);
    if (table->channel > 0)
        lds_text_channel_heading(out, table->channel_name, table->channel);
    lds_text_titled(out, "", table->summary ? table->summary : "");
    for (size_t i = 0; i < table->notes; i++)
        lds_text_titled(out, "- ", table->note[i]);
    for (int first = LDS_ROW_MIDDLE; row && first < (int)table->units; first += COLUMNS) {
        int last = first + COLUMNS - 1;
        print_block(out, row, table->rows, keys, first, last < (int)table->units ? last : (int)table->units - 1);
    }
    if (any_stands_out(table))
        fputs("\n  * stands out from the other units\n", out);
    if (table->not_compared > 0)
        fputs("\nNot compared\n", out);
    lds_text_absents(out, "", table->not_compared_why, table->not_compared, LDS_TEXT_ANY_SECTION);
    free(row);
}

static void print_tables(FILE *out, const struct lds_unit_table *table, size_t tables, bool keys)
{
    for (size_t i = 0; tables > 0 && i < table->units; i++) {
        char title[32];
        const char *name = table->name[i];
        snprintf(title, sizeof title, "unit %-4zu", i + 1);
        lds_text_titled(out, title, name[0] ? name : "a capture without a name");
    }
    lds_page_paragraph(out, 0, 0,
                       "The middle is the median; the spread is 1.4826 times the median of the deviations from it.");
    for (size_t i = 0; i < tables; i++)
        print_table(out, &table[i], keys);
}

enum lds_status lds_units_text(const struct lds_unit_table *table, size_t tables, unsigned options, FILE *out,
                               struct lds_error *error)
{
    struct lds_text_page page;
    FILE *text = lds_text_begin(&page);
    if (text)
        print_tables(text, table, tables, (options & LDS_SCREEN_KEYS) != 0);
    return lds_text_finish(&page, out, error);
}
