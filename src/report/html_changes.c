/* A group of captures before and after the work, its channels side by side: figures that were judged, and figures that
 * are only shown. */
#include <stdlib.h>
#include <string.h>

#include "report/change_rows.h"
#include "report/figures.h"
#include "report/html_beside.h"

static const struct lds_html_column shown_columns[] = {{"before", LDS_HTML_NUMBER}, {"after", LDS_HTML_NUMBER}};
enum { SHOWN = sizeof shown_columns / sizeof shown_columns[0] };

static void put_change(struct lds_html_beside *table, const struct lds_change_row *row, size_t channels, bool judged)
{
    struct lds_change_cells cells[LDS_SIDE_BY_SIDE];
    struct lds_short word[LDS_SIDE_BY_SIDE] = {{""}};
    struct lds_label label = {""};
    char marks[LDS_MARKS_SIZE] = "";
    const char *text[LDS_HTML_COLUMNS + 1] = {NULL, ""};
    size_t used = 2;
    lds_change_row_cells(row, cells);
    for (size_t c = 0; c < channels; c++) {
        const struct lds_change *change = row->of[c];
        const char *const all[] = {cells[c].before, cells[c].after, cells[c].number, cells[c].interval, word[c].text};
        if (change) {
            lds_footnote_flags(&table->notes, lds_change_flags(change), false, marks);
            label = cells[c].label;
            text[1] = cells[c].unit;
            word[c] =
                lds_short("%s%s", change->judged ? lds_word_name(change->word) : "", change->worse ? ", worse" : "");
        }
        for (size_t i = 0; i < (judged ? LDS_HTML_JUDGED : SHOWN); i++)
            text[used++] = all[i];
    }
    const struct lds_sentence marked = lds_html_marked(label.text, marks);
    text[0] = marked.text;
    lds_html_table_row(&table->table, text);
}

static bool has_group(const struct lds_change_row *row, size_t rows, const struct lds_change_table *part)
{
    for (size_t i = 0; i < rows; i++)
        if (row[i].group >= part->first && row[i].group <= part->last)
            return true;
    return false;
}

static void put_part(struct lds_html_beside *table, const struct lds_change_row *row, size_t rows, size_t channels,
                     const struct lds_change_table *part)
{
    for (enum lds_change_group group = part->first; group <= part->last; group++)
        for (size_t i = 0; i < rows; i++)
            if (row[i].group == group)
                put_change(table, &row[i], channels, part->last != LDS_CHANGES_SHOWN);
}

/* What was judged, by its result; or what was only shown. */
static void put_table(const struct lds_html_place *place, const struct lds_job_group *group,
                      const struct lds_beside *beside, bool judged)
{
    const int last = LDS_CHANGE_TABLES - 1;
    const struct lds_html_beside_form form = {judged ? "Changes" : lds_change_tables[last].heading,
                                              "figure",
                                              group,
                                              judged ? lds_html_judged : shown_columns,
                                              judged ? LDS_HTML_JUDGED : SHOWN,
                                              true};
    struct lds_html_beside table;
    size_t rows;
    struct lds_change_row *row = lds_change_rows(beside, &rows);
    bool open = false;
    for (int t = judged ? 0 : last; t < last + !judged; t++) {
        const struct lds_change_table *part = &lds_change_tables[t];
        if (!has_group(row, rows, part))
            continue;
        if (!open)
            lds_html_beside_open(&table, *place, beside->number, beside->channels, &form);
        open = true;
        if (judged)
            lds_html_table_group(&table.table, part->heading);
        put_part(&table, row, rows, beside->channels, part);
    }
    if (open)
        lds_html_beside_close(&table);
    free(row);
}

/* ---- what could not be compared ---- */

static void put_absents(const struct lds_html_place *place, const struct lds_comparison *comparison)
{
    struct lds_footnotes all = {0};
    const struct lds_listener listener = lds_html_once_listener(&all);
    for (size_t c = 0; c < comparison->channels; c++) {
        const struct lds_compared_channel *channel = &comparison->channel[c];
        lds_absents_say("Not compared:", channel->not_compared_why, channel->not_compared, LDS_TEXT_ANY_SECTION,
                        &listener);
    }
    lds_html_once_put(&all, place);
}

static void put_notes(const struct lds_html_place *place, const struct lds_comparison *comparison)
{
    for (size_t i = 0; i < comparison->notes; i++)
        if (comparison->note[i] != comparison->scatter_note)
            lds_html_sentence(place, comparison->note[i]);
}

void lds_html_changes(struct lds_html *html, const struct lds_job_group *group)
{
    const struct lds_sentence heading = lds_sentence("Appendix: before and after, %s", group->title);
    const struct lds_html_place place = {html, lds_html_section(html, heading.text)};
    const struct lds_comparison *comparison = &group->comparison;
    put_notes(&place, comparison);
    for (size_t c = 0; c < comparison->channels; c += LDS_SIDE_BY_SIDE) {
        const struct lds_beside beside = lds_beside_from(comparison, c);
        put_table(&place, group, &beside, true);
        lds_html_line_changes(&place, group, &beside);
        put_table(&place, group, &beside, false);
    }
    lds_html_axes(&place, comparison);
    put_absents(&place, comparison);
}
