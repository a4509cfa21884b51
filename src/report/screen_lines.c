/* Lists of lines on one screen: the strongest ones, several on a text line. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "report/figures.h"
#include "report/page.h"
#include "report/screen.h"
#include "report/series_cells.h"
#include "report/text.h"
#include "safe_text.h"

enum { LABEL = 20 };

/* "2nd", "150 Hz", "21.5 kHz" */
static struct lds_short name_of(const struct lds_series *series, size_t row)
{
    const struct lds_series_kind *kind = series->kind;
    double hz = lds_series_value(series, row, kind->match == LDS_MATCH_ORDER ? LDS_LINE_HZ : kind->axis);
    if (lds_table_view_of(kind)->screen.by_order)
        return lds_text_ordinal((int)lds_series_value(series, row, LDS_LINE_ORDER));
    return hz < 1e4 ? lds_short("%.0f Hz", hz) : lds_short("%.1f kHz", hz / 1e3);
}

static struct lds_short value_of(const struct lds_series *series, size_t row, bool calibrated)
{
    const struct lds_screen_view *view = &lds_table_view_of(series->kind)->screen;
    struct lds_cell cell = lds_series_cell(series, row, view->column);
    if (view->decibels)
        return lds_short("%.1f", cell.value);
    if (!calibrated)
        return lds_short("%.1f dBFS", lds_dbfs(cell.value));
    const struct lds_reading level = lds_screen_number(cell.value, cell.value * 0.99, cell.value * 1.01, "V");
    return lds_short("%s %s", level.value, level.unit);
}

/* The largest of the values and limits that are not shown. */
static double largest_other(const struct lds_series *series, int column, const size_t *row, size_t shown)
{
    double largest = NAN;
    for (size_t i = 0; i < series->rows; i++) {
        bool is_shown = false;
        for (size_t k = 0; k < shown; k++)
            is_shown = is_shown || row[k] == i;
        struct lds_cell cell = lds_series_cell(series, i, column);
        bool counts = !is_shown && (series->kind->match != LDS_MATCH_ORDER ||
                                    lds_series_value(series, i, LDS_LINE_ORDER) >= series->kind->first_order);
        if (counts)
            largest = fmax(largest, isfinite(cell.value) ? cell.value : cell.high);
    }
    return largest;
}

/* A list that goes on to the next line when the next word does not fit. */
struct list {
    FILE *out;
    int pending, column; /* blanks before the next word; where that begins */
};

static void begin(struct list *list, FILE *out, const char *label)
{
    *list = (struct list){out, 0, 2 + LABEL};
    fputs("  ", out);
    lds_page_left(out, label, LABEL);
}

static void put(struct list *list, const char *word, int width)
{
    int wide = lds_words_width(word);
    if (list->column + wide > LDS_PAGE_COLUMNS) {
        fprintf(list->out, "\n%*s", 2 + LABEL, "");
        list->column = 2 + LABEL;
        list->pending = 0;
    }
    fprintf(list->out, "%*s%s", list->pending, "", word);
    list->pending = width > wide ? width - wide : 1;
    list->column += wide + list->pending;
}

static void put_others(struct list *list, const struct lds_series *series, bool calibrated, const size_t *row,
                       size_t shown)
{
    const struct lds_screen_view *view = &lds_table_view_of(series->kind)->screen;
    double other = largest_other(series, view->column, row, shown);
    const struct lds_reading level = lds_screen_number(NAN, NAN, other, "V");
    if (view->others && isfinite(other))
        put(list,
            (view->decibels ? lds_short("others < %.0f", ceil(other + 1e-9))
             : !calibrated  ? lds_short("others < %.0f dBFS", ceil(lds_dbfs(other) + 1e-9))
                            : lds_short("others %s %s", level.value, level.unit))
                .text,
            0);
}

/* Lines that have an origin take a text line each. */
static void print_origins(struct lds_screen *screen, const struct lds_series *series, bool calibrated,
                          const size_t *row, size_t shown)
{
    const struct lds_screen_view *view = &lds_table_view_of(series->kind)->screen;
    for (size_t i = 0; i < shown; i++) {
        const struct lds_sentence words = lds_sentence("%s %s: %s", name_of(series, row[i]).text,
                                                       value_of(series, row[i], calibrated).text, series->text[row[i]]);
        lds_text_titled(screen->out, lds_short("  %-*s", LABEL, i == 0 ? view->label : "").text, words.text);
    }
}

void lds_screen_lines(struct lds_screen *screen, const struct lds_series *series, bool calibrated)
{
    const struct lds_screen_view *view = &lds_table_view_of(series->kind)->screen;
    size_t shown, more, *row = lds_series_strongest(series, view->rows, &shown, &more);
    struct list list;
    if (row && shown > 0 && series->text) {
        print_origins(screen, series, calibrated, row, shown);
    } else if (row && shown > 0) {
        begin(&list, screen->out, view->label);
        for (size_t i = 0; i < shown; i++) {
            char marks[LDS_MARKS_SIZE] = "";
            lds_screen_marks(screen, series->flag ? series->flag[row[i]] : 0, NULL, marks);
            const struct lds_label word =
                lds_label("%s %s%s", name_of(series, row[i]).text, value_of(series, row[i], calibrated).text, marks);
            put(&list, word.text, view->width);
        }
        put_others(&list, series, calibrated, row, shown);
        fputc('\n', screen->out);
    }
    free(row);
}
