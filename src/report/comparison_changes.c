/* Tables of changes in the text of a comparison. */
#include <stdlib.h>
#include <string.h>

#include "report/comparison_cells.h"
#include "report/comparison_text.h"
#include "report/figures.h"
#include "report/page.h"
#include "report/text.h"
#include "safe_text.h"

/* indent 2, label, word, digits before and after the point, interval, both values: 80 columns in all. */
enum { LABEL = 35, WORD = 6, BEFORE = 4, AFTER = 5, INTERVAL = 10, VALUES = LDS_CHANGE_VALUES };

static bool fit(const struct lds_change_cells *cells)
{
    size_t whole = strcspn(cells->number, ".");
    int interval = lds_words_width(cells->interval), values = lds_words_width(cells->values);
    return whole <= BEFORE && strlen(cells->number) - whole < AFTER && interval <= INTERVAL && values <= VALUES &&
           interval + values < INTERVAL + VALUES && lds_words_width(cells->label) < LABEL;
}

static void print_row(FILE *out, const struct lds_change *change)
{
    struct lds_change_cells cells;
    struct lds_scrap scrap;
    lds_change_cells_make(&cells, change);
    if (fit(&cells)) {
        fputs("  ", out);
        lds_page_left(out, cells.label, LABEL);
        lds_page_left(out, cells.word, WORD);
        lds_page_number(out, cells.number, BEFORE, AFTER);
        lds_page_left(out, cells.interval, INTERVAL);
        lds_page_right(out, cells.values, VALUES);
        fputc('\n', out);
    } else if (cells.number[0] || cells.interval[0]) {
        lds_page_paragraph(out, 2, 2, "%s: %s %s %s%s, %s", cells.label, cells.word, cells.number, cells.interval,
                           strcmp(change->unit, "dB") == 0 ? " dB" : "", cells.values);
    } else {
        lds_page_paragraph(out, 2, 2, "%s: %s", cells.label, cells.values);
    }
    if (lds_change_flags(change) && lds_scrap_open(&scrap)) {
        lds_flags_print(scrap.out, lds_change_flags(change), "; ");
        lds_text_scrap_print(&scrap, out, 6, 0);
    }
}

static void print_heading(FILE *out, const char *heading, const char *number)
{
    fputc('\n', out);
    lds_page_left(out, heading, 2 + LABEL + WORD);
    lds_page_left(out, number, BEFORE + AFTER + INTERVAL);
    lds_page_right(out, "before → after", VALUES);
    fputc('\n', out);
}

static void print_group(FILE *out, const struct lds_change *const *change, size_t count, enum lds_change_group group,
                        bool bench)
{
    size_t printed = 0;
    for (size_t i = 0; i < count; i++) {
        if (lds_change_group_of(change[i]) != group || change[i]->name.row->restates)
            continue;
        char text[80];
        print_row(out, change[i]);
        printed++;
        lds_change_advice(change[i], text, sizeof text);
        lds_page_paragraph(out, 6, 0, "%s", bench ? text : "");
    }
    lds_page_paragraph(out, 6, 0, "%s", bench ? lds_change_group_advice(group, printed) : "");
}

void lds_text_changes(FILE *out, const struct lds_compared_channel *channel, bool bench)
{
    const struct lds_change **change = lds_changes_sorted(channel->change, channel->changes);
    for (size_t t = 0; change && t < LDS_CHANGE_TABLES; t++) {
        const struct lds_change_table *table = &lds_change_tables[t];
        if (lds_changes_count(channel, table->first, table->last) == 0)
            continue;
        print_heading(out, table->heading, table->number);
        for (enum lds_change_group group = table->first; group <= table->last; group++)
            print_group(out, change, channel->changes, group, bench);
    }
    free(change);
}
