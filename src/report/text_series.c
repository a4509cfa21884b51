/* Series as tables in the text report. */
#include <ctype.h>
#include <stdlib.h>

#include "report/page.h"
#include "report/series_cells.h"
#include "report/text.h"
#include "safe_text.h"

enum { ORIGIN = 36 }; /* columns left next to the row */

static void print_cell(FILE *out, const struct lds_cell_view *view, const char *text)
{
    switch (view->place) {
    case LDS_CELL_LABEL:
    case LDS_CELL_RIGHT:
        lds_page_right(out, text, view->before);
        break;
    case LDS_CELL_LEFT:
        lds_page_left(out, text, view->before);
        break;
    case LDS_CELL_POINT:
        lds_page_number(out, text, view->before, view->after);
        break;
    }
    fputs(view->suffix ? view->suffix : "", out);
}

static void print_origin(FILE *out, const char *text)
{
    char *origin = lds_words_escape(text);
    bool fits = origin && lds_words_width(origin) <= ORIGIN;
    fprintf(out, "%s%s\n", fits ? "   " : "", fits ? origin : "");
    if (!fits)
        lds_page_paragraph(out, 10, 0, "%s", text);
    free(origin);
}

static void print_row(FILE *out, const struct lds_series *series, size_t row, bool calibrated, double largest)
{
    const struct lds_table_view *view = lds_table_view_of(series->kind);
    for (size_t i = 0; i < view->cells; i++)
        print_cell(out, &view->cell[i], lds_series_cell_words(series, row, &view->cell[i], calibrated, largest).text);
    if (series->text) {
        print_origin(out, series->text[row]);
        return;
    }
    const struct lds_label flags = lds_series_flag_words(series, row);
    fprintf(out, "%s%s\n", !flags.text[0] ? "" : view->flags_below ? "\n         " : "  ", flags.text);
}

static void print_series(FILE *out, const struct lds_series *series, bool calibrated)
{
    const struct lds_table_view *view = lds_table_view_of(series->kind);
    const struct lds_listener listener = lds_text_listener(out);
    size_t shown, more, *row = lds_series_pick(series, &shown, &more);
    double largest = lds_series_largest(series);
    if (shown > 0 && view->heading)
        fputs(view->heading, out);
    else if (shown > 0)
        fprintf(out, "\n  %s\n", series->kind->label);
    for (size_t i = 0; row && i < shown; i++)
        print_row(out, series, row[i], calibrated, largest);
    if (more > 0)
        fprintf(out, "  %zu %s stand in the JSON and CSV reports\n", more, view->more);
    lds_series_unseen_say(series, calibrated, &listener);
    free(row);
}

void lds_text_series(FILE *out, const struct lds_series *series, size_t count, bool calibrated,
                     enum lds_section section)
{
    size_t kinds;
    const struct lds_series_kind *kind = lds_series_kinds(&kinds);
    for (size_t k = 0; k < kinds; k++) {
        const struct lds_table_view *view = kind[k].section == section ? lds_table_view_of(&kind[k]) : NULL;
        const struct lds_series *one = lds_series_find(series, count, kind[k].key);
        if (view && one->rows > 0)
            print_series(out, one, calibrated);
        else if (view && view->none)
            fprintf(out, "  %c%s\n", toupper(view->none[0]), view->none + 1);
    }
}
