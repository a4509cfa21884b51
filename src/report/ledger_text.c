/* The ledger for people: its units; the history of one, with figures in rows and dates in columns, and its standing. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "loadside/report.h"
#include "report/figures.h"
#include "report/ledger_parts.h"
#include "report/page.h"
#include "report/row_scale.h"
#include "report/text.h"
#include "safe_text.h"
#include "scarce.h"

/* The list of units: 80 columns in total. */
enum { MAKE = 19, TYPE = 17, SERIAL = 16, JOBS = 5, DAY = 11 };
/* A history: indent 2, label, unit, then columns of equal width: 80 in total. */
enum { LABEL = 27, UNIT = 7, COLUMN = 11, COLUMNS = 4 };
/* The standing: 80 in total. */
enum { PLACE_LABEL = 25, PLACE_UNIT = 7, VALUE = 8, COUNT = 7 };

static void print_unit(FILE *out, const struct lds_ledger_unit *unit)
{
    const char *const text[] = {unit->make ? unit->make : "-", unit->type ? unit->type : "-",
                                unit->serial ? unit->serial : "-"};
    const int width[] = {MAKE, TYPE, SERIAL};
    int indent = 0;
    for (int i = 0; i < 3; i++) {
        char *safe = lds_words_escape(text[i]);
        if (safe && lds_words_width(safe) < width[i]) {
            lds_page_left(out, safe, width[i]);
        } else if (safe) { /* too long for its column: a line of its own, with the same indent */
            fputs(i ? "\n" : "", out);
            lds_page_paragraph(out, indent, 2, "%s", safe);
            fprintf(out, "%*s", indent + width[i], "");
        }
        indent += width[i];
        free(safe);
    }
    fprintf(out, "%*zu ", JOBS, unit->jobs);
    lds_page_right(out, lds_ledger_day(unit->first_date).text, DAY);
    lds_page_right(out, lds_ledger_day(unit->last_date).text, DAY);
    fputc('\n', out);
}

enum lds_status lds_ledger_units_text(const struct lds_ledger_unit *unit, size_t units, FILE *out,
                                      struct lds_error *error)
{
    struct lds_text_page page;
    FILE *text = lds_text_begin(&page);
    if (text)
        fprintf(text, "%-*s%-*s%-*s%*s %*s%*s\n", MAKE, "make", TYPE, "type", SERIAL, "serial number", JOBS, "jobs",
                DAY, "first", DAY, "last");
    for (size_t i = 0; text && i < units; i++)
        print_unit(text, &unit[i]);
    if (text && units == 0)
        fputs("no unit yet\n", text);
    return lds_text_finish(&page, out, error);
}

/* ---- the history ---- */

/* A column: one side of a job. */
struct column {
    size_t job;
    enum lds_when when;
    size_t captures;
};

static const struct lds_ledger_point *point_of(const struct lds_ledger_series *series, const struct column *column)
{
    for (size_t i = 0; i < series->points; i++)
        if (series->point[i].job == column->job && series->point[i].when == column->when)
            return &series->point[i];
    return NULL;
}

/* The sides of jobs that any of the series has, in order; to be freed. */
static struct column *make_columns(const struct lds_ledger_history *history, size_t first, size_t last, size_t *columns)
{
    static const enum lds_when order[] = {LDS_WHEN_BEFORE, LDS_WHEN_ANY, LDS_WHEN_AFTER};
    struct column *column = malloc((3 * history->jobs + 1) * sizeof *column);
    *columns = 0;
    for (size_t job = 0; column && job < history->jobs; job++)
        for (int side = 0; side < 3; side++) {
            struct column wanted = {.job = job, .when = order[side]};
            for (size_t i = first; i < last; i++) {
                const struct lds_ledger_point *point =
                    history->serie[i].main ? point_of(&history->serie[i], &wanted) : NULL;
                if (point && point->captures > wanted.captures)
                    wanted.captures = point->captures;
            }
            if (wanted.captures > 0)
                column[(*columns)++] = wanted;
        }
    return column;
}

/* A series as a row of a table: one value per column, NAN where it has none. */
static bool make_row(struct lds_unit_row *row, const struct lds_ledger_series *series, const struct column *column,
                     size_t columns)
{
    double *numbers = malloc((3 * columns + 1) * sizeof *numbers);
    if (!numbers) {
        lds_scarce_note();
        return false;
    }
    *row = (struct lds_unit_row){.key = series->key,
                                 .count = columns,
                                 .value = numbers,
                                 .low = numbers + columns,
                                 .high = numbers + 2 * columns,
                                 .median = NAN,
                                 .spread = NAN};
    memcpy(row->unit, series->unit, sizeof row->unit);
    for (size_t i = 0; i < columns; i++) {
        const struct lds_ledger_point *point = point_of(series, &column[i]);
        row->value[i] = point ? point->value : (double)NAN;
        row->low[i] = point ? point->low : (double)NAN;
        row->high[i] = point ? point->high : (double)NAN;
    }
    return true;
}

/* Where a history goes, and how its figures are named. */
struct page {
    FILE *out;
    const struct lds_ledger_history *history;
    bool keys; /* by their keys, as limits and JSON have them */
};

static void print_head(const struct page *page, const struct lds_ledger_series *series, const char *unit,
                       int label_width, int unit_width)
{
    lds_text_label_column(page->out, (page->keys ? lds_series_key(series) : lds_series_label(series)).text,
                          label_width);
    lds_page_left(page->out, unit, unit_width);
}

static void print_series(const struct page *page, const struct lds_ledger_series *series, const struct column *column,
                         size_t columns, size_t first, size_t last)
{
    struct lds_unit_row row;
    struct lds_row_scale scale;
    if (!make_row(&row, series, column, columns))
        return;
    lds_row_scale_make(&scale, &row, COLUMN);
    print_head(page, series, scale.unit, LABEL, UNIT);
    for (size_t i = first; i < last; i++)
        lds_page_right(page->out, lds_row_scale_words(&scale, &row, (int)i).text, COLUMN);
    fputc('\n', page->out);
    free(row.value);
}

static void print_columns(const struct page *page, const struct column *column, size_t count)
{
    const struct lds_ledger_history *history = page->history;
    FILE *out = page->out;
    fprintf(out, "\n%*s", 2 + LABEL + UNIT, "");
    for (size_t i = 0; i < count; i++)
        lds_page_right(out, lds_ledger_day(history->job[column[i].job].date).text, COLUMN);
    fprintf(out, "\n%*s", 2 + LABEL + UNIT, "");
    for (size_t i = 0; i < count; i++) {
        const char *when = lds_when_name(column[i].when);
        lds_page_right(
            out,
            (column[i].captures > 1 ? lds_short("%s (%zu)", when, column[i].captures) : lds_short("%s", when)).text,
            COLUMN);
    }
    fputc('\n', out);
}

static void print_table(const struct page *page, size_t first, size_t last)
{
    const struct lds_ledger_history *history = page->history;
    size_t columns;
    struct column *column = make_columns(history, first, last, &columns);
    if (!column)
        lds_scarce_note();
    for (size_t from = 0; from < columns; from += COLUMNS) {
        size_t to = from + COLUMNS < columns ? from + COLUMNS : columns;
        print_columns(page, column + from, to - from);
        for (size_t i = first; i < last; i++)
            if (history->serie[i].main)
                print_series(page, &history->serie[i], column, columns, from, to);
    }
    free(column);
}

/* ---- standing ---- */

static bool has_others(const struct lds_ledger_series *series)
{
    const struct lds_ledger_standing *standing = &series->standing;
    return standing->lower + standing->alike + standing->higher > 0;
}

static void print_place(const struct page *page, const struct lds_ledger_series *series)
{
    const struct lds_ledger_standing *standing = &series->standing;
    double value = standing->value, low = standing->low, high = standing->high;
    struct lds_unit_row row = {.key = series->key,
                               .count = 1,
                               .value = &value,
                               .low = &low,
                               .high = &high,
                               .median = standing->median,
                               .spread = standing->spread};
    struct lds_row_scale scale;
    memcpy(row.unit, series->unit, sizeof row.unit);
    lds_row_scale_make(&scale, &row, VALUE);
    print_head(page, series, scale.unit, PLACE_LABEL, PLACE_UNIT);
    static const int SHOWN[] = {0, LDS_ROW_MIDDLE, LDS_ROW_SPREAD};
    for (int i = 0; i < 3; i++)
        lds_page_right(page->out, lds_row_scale_words(&scale, &row, SHOWN[i]).text, VALUE);
    fprintf(page->out, "%*zu%*zu%*zu\n", COUNT, standing->lower, COUNT, standing->alike, COUNT, standing->higher);
}

/* Prints all main figures, or those that other units have too. */
static void print_places(const struct page *page, size_t first, size_t last, bool all)
{
    bool begun = false;
    for (size_t i = first; i < last; i++) {
        const struct lds_ledger_series *series = &page->history->serie[i];
        if (!series->main || !(all || has_others(series)))
            continue;
        if (!begun)
            fprintf(page->out, "\n  %-*s%*s%*s%*s%*s%*s%*s\n", PLACE_LABEL + PLACE_UNIT, "among the units of this type",
                    VALUE, "this", VALUE, "median", VALUE, "spread", COUNT, "lower", COUNT, "alike", COUNT, "higher");
        begun = true;
        print_place(page, series);
    }
}

static void print_population(FILE *out, const struct lds_ledger_history *history)
{
    struct lds_label unnamed = {""};
    if (history->unnamed > 0)
        unnamed = lds_label(" %zu of them without serial number count%s once a job.", history->unnamed,
                            history->unnamed == 1 ? "s" : "");
    lds_page_paragraph(
        out, 0, 0,
        "%zu unit%s of this make and type %s in the ledger, each standing by its latest captures, after the work "
        "where there is an after.%s Lower and higher: the whole 95 %% interval is. The spread is 1.4826 times the "
        "median of the deviations from the median.",
        history->population, history->population == 1 ? "" : "s", history->population == 1 ? "is" : "are",
        unnamed.text);
}

static void print_others(FILE *out, const struct lds_ledger_history *history)
{
    if (history->population == 0)
        lds_page_paragraph(out, 0, 0, "The type of this unit is not stated, so there are no others to stand among.");
    else if (history->population == 1)
        lds_page_paragraph(out, 0, 0, "No other unit of this make and type is in the ledger.");
    else
        print_population(out, history);
}

/* ---- the page ---- */

static void print_job(FILE *out, const struct lds_ledger_job *job)
{
    struct lds_scrap scrap;
    if (!lds_scrap_open(&scrap))
        return;
    fprintf(scrap.out, "%s%s%s", job->client ? job->client : "", job->client ? ": " : "",
            job->work ? job->work : "work not stated");
    for (size_t i = 0; i < job->parts; i++)
        fprintf(scrap.out, "%s%s %s to %s", i > 0 ? ", " : " Parts: ", job->part[i].name ? job->part[i].name : "a part",
                job->part[i].before ? job->part[i].before : "?", job->part[i].after ? job->part[i].after : "?");
    if (lds_scrap_close(&scrap) && scrap.text) {
        for (char *c = scrap.text; *c; c++) /* several lines of the work become one here */
            *c = *c == '\n' ? ' ' : *c;
        lds_text_titled(out, lds_short("%-12s", lds_ledger_day(job->date).text).text, scrap.text);
    }
    free(scrap.text);
}

static size_t end_of_group(const struct lds_ledger_history *history, size_t first)
{
    const struct lds_ledger_series *series = history->serie;
    size_t last = first + 1;
    while (last < history->series && lds_series_same_condition(&series[first], &series[last]) &&
           series[first].channel == series[last].channel && series[first].other == series[last].other)
        last++;
    return last;
}

/* others: only those that other units have too. */
static bool has_main(const struct lds_ledger_history *history, size_t first, size_t last, bool others)
{
    for (size_t i = first; i < last; i++)
        if (history->serie[i].main && (!others || has_others(&history->serie[i])))
            return true;
    return false;
}

/* Captures grouped by condition and channel; the tables over time are optional. */
static void print_groups(const struct page *page, bool tables)
{
    const struct lds_ledger_history *history = page->history;
    for (size_t first = 0, last; first < history->series; first = last) {
        last = end_of_group(history, first);
        if (!has_main(history, first, last, false))
            continue;
        lds_text_heading(page->out, "%s, %s", lds_series_condition(&history->serie[first]).text,
                         lds_series_channel(&history->serie[first]).text);
        if (tables)
            print_table(page, first, last);
        if (tables || has_main(history, first, last, true))
            print_places(page, first, last, !tables);
        else
            lds_page_paragraph(page->out, 2, 2, "No unit in the ledger has these figures under these conditions.");
    }
}

static void print_history(const struct page *page)
{
    const struct lds_ledger_history *history = page->history;
    FILE *out = page->out;
    char *words = lds_ledger_unit_words(&history->unit);
    lds_page_paragraph(out, 0, 2, "%s", words ? words : "");
    free(words);
    fputc('\n', out);
    for (size_t i = 0; i < history->jobs; i++)
        print_job(out, &history->job[i]);
    fputc('\n', out);
    print_others(out, history);
    print_groups(page, true);
}

enum lds_status lds_history_text(const struct lds_ledger_history *history, unsigned options, FILE *out,
                                 struct lds_error *error)
{
    struct lds_text_page page;
    FILE *text = lds_text_begin(&page);
    if (text)
        print_history(&(struct page){text, history, (options & LDS_SCREEN_KEYS) != 0});
    return lds_text_finish(&page, out, error);
}

static void print_standing(const struct page *page)
{
    const struct lds_ledger_history *placed = page->history;
    const struct lds_ledger_unit *unit = &placed->unit;
    const char *file = placed->jobs > 0 ? placed->job->capture->file : NULL;
    lds_page_paragraph(page->out, 0, 2, "%s among the units of %s %s", file ? file : "capture",
                       unit->make ? unit->make : "", unit->type ? unit->type : "");
    fputc('\n', page->out);
    print_population(page->out, placed);
    print_groups(page, false);
}

enum lds_status lds_standing_text(const struct lds_ledger_history *placed, unsigned options, FILE *out,
                                  struct lds_error *error)
{
    struct lds_text_page page;
    FILE *text = lds_text_begin(&page);
    if (text)
        print_standing(&(struct page){text, placed, (options & LDS_SCREEN_KEYS) != 0});
    return lds_text_finish(&page, out, error);
}
