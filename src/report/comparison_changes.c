/* Tables of changes in the text of a comparison. */
#include <string.h>

#include "report/change_line.h"
#include "report/comparison_cells.h"
#include "report/comparison_text.h"
#include "report/figures.h"
#include "report/page.h"
#include "report/text.h"

static const struct lds_change_columns columns = {35, 6, 4, 5, 10, LDS_CHANGE_VALUES};

static void print_row(FILE *out, const struct lds_change *change)
{
    struct lds_scrap scrap;
    const struct lds_change_cells cells = lds_change_cells(change);
    lds_change_line_print(out, &columns,
                          &(struct lds_change_line){cells.label.text, cells.word, cells.number, cells.interval,
                                                    cells.values, strcmp(change->unit, "dB") == 0 ? "dB" : ""});
    if (lds_change_flags(change) && lds_scrap_open(&scrap)) {
        lds_flags_print(scrap.out, lds_change_flags(change), "; ");
        lds_text_scrap_print(&scrap, out, 6, 0);
    }
}

static void print_group(FILE *out, const struct lds_compared_channel *channel, enum lds_change_group group, bool bench)
{
    size_t printed = 0;
    for (const struct lds_change *change = NULL;
         (change = lds_next_change(change, channel->change, channel->changes)) != NULL;) {
        if (lds_change_group_of(change) != group || change->name.row->restates)
            continue;
        print_row(out, change);
        printed++;
        lds_page_paragraph(out, 6, 0, "%s", bench ? lds_change_advice(change).text : "");
    }
    lds_page_paragraph(out, 6, 0, "%s", bench ? lds_change_group_advice(group, printed) : "");
}

void lds_text_changes(FILE *out, const struct lds_compared_channel *channel, bool bench)
{
    for (size_t t = 0; t < LDS_CHANGE_TABLES; t++) {
        const struct lds_change_table *table = &lds_change_tables[t];
        if (lds_changes_count(channel, table->first, table->last) == 0)
            continue;
        fputc('\n', out);
        lds_change_line_heading(out, &columns, table->heading, table->number);
        for (enum lds_change_group group = table->first; group <= table->last; group++)
            print_group(out, channel, group, bench);
    }
}
