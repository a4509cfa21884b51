/* The report of a job as text, in the order of the page: the client's page, what each group shows, limits, the job,
 * conditions, standing texts, files; then every capture that was compared. */
#include <inttypes.h>
#include <stdlib.h>
#include <string.h>

#include "loadside/report.h"
#include "report/client.h"
#include "report/expected_cells.h"
#include "report/figures.h"
#include "report/job_words.h"
#include "report/page.h"
#include "report/text.h"
#include "safe_text.h"

enum { NAME = 20, INDENT = 2 };

static bool is_ascii(const char *text)
{
    while (*text && (unsigned char)*text < 0x80)
        text++;
    return !*text;
}

static void print_row(FILE *out, const char *name, const char *text)
{
    char *safe_name = lds_words_escape(name);
    if (safe_name && is_ascii(safe_name) && strlen(safe_name) < NAME - 1) {
        lds_text_titled(out, lds_short("%*s%-*s", INDENT, "", NAME, safe_name).text, text[0] ? text : "not stated");
    } else {
        lds_page_paragraph(out, INDENT, INDENT, "%s: %s", name, text);
    }
    free(safe_name);
}

/* A name equal to that of the row above is not repeated. */
static void print_rows(FILE *out, const char *heading, const struct lds_rows_of_words *rows)
{
    if (rows->count > 0 && heading)
        lds_text_heading(out, "%s", heading);
    for (size_t i = 0; i < rows->count; i++)
        print_row(out, i > 0 && strcmp(rows->row[i - 1].name, rows->row[i].name) == 0 ? "" : rows->row[i].name,
                  rows->row[i].text);
}

/* What a column of a table takes: up to its decimal point, and from it on. */
struct width {
    int whole, rest;
};

static struct width width_of(const char *text, bool number)
{
    size_t whole = strcspn(text, ".");
    if (number)
        return (struct width){(int)whole, (int)(strlen(text) - whole)};
    char *safe = lds_words_escape(text);
    struct width width = {safe ? lds_words_width(safe) : 0, 0};
    free(safe);
    return width;
}

static void print_cell(FILE *out, const char *text, bool number, struct width width)
{
    char *safe = lds_words_escape(text);
    fputc(' ', out);
    if (number)
        lds_page_number(out, safe ? safe : "", width.whole, width.rest);
    else
        lds_page_left(out, safe ? safe : "", width.whole + width.rest);
    free(safe);
}

/* The first column takes what the others leave; a longer name gets a line of its own. */
static void print_table(FILE *out, const struct lds_table_of_words *table)
{
    struct width width[LDS_WORDS_COLUMNS] = {{0, 0}};
    int label = LDS_PAGE_COLUMNS - INDENT;
    for (size_t c = 1; c < table->columns; c++) {
        for (size_t r = 0; r < table->rows; r++) {
            struct width one = width_of(table->row[r].text[c], table->number[c]);
            width[c].whole = one.whole > width[c].whole ? one.whole : width[c].whole;
            width[c].rest = one.rest > width[c].rest ? one.rest : width[c].rest;
        }
        int short_of = lds_words_width(table->heading[c]) - width[c].whole - width[c].rest;
        width[c].whole += short_of > 0 ? short_of : 0;
        label -= 1 + width[c].whole + width[c].rest;
    }
    fprintf(out, "\n%s\n", table->caption);
    for (size_t r = 0; r <= table->rows; r++) {
        char *const *text = r > 0 ? table->row[r - 1].text : NULL;
        char *name = lds_words_escape(text ? text[0] : table->heading[0]);
        lds_text_label_column(out, name ? name : "", label > 1 ? label : 1);
        free(name);
        for (size_t c = 1; c < table->columns; c++)
            print_cell(out, text ? text[c] : table->heading[c], text && table->number[c],
                       c + 1 < table->columns || table->number[c] ? width[c] : (struct width){0, 0});
        fputc('\n', out);
    }
}

static void print_paragraphs(FILE *out, const char *heading, const struct lds_remarks *remarks)
{
    if (remarks->count > 0)
        lds_text_heading(out, "%s", heading);
    for (size_t i = 0; i < remarks->count; i++) {
        fputs(i > 0 ? "\n" : "", out);
        lds_page_paragraph(out, INDENT, 0, "%s", remarks->line[i]);
    }
}

static void print_job(FILE *out, const struct lds_job *job, const struct lds_job_words *words)
{
    print_rows(out, "Unit and job", &words->unit);
    print_paragraphs(out, "What was done", &words->work);
    print_rows(out, "Parts changed", &words->parts);
    lds_expected_print(out, job);
    print_paragraphs(out, "Notes", &words->notes);
    print_rows(out, "Power as stated", &words->rating);
    print_rows(out, "Tested at", &words->powers);
}

/* A rule across the page with a heading below it. */
static void print_chapter(FILE *out, const char *what, const char *name)
{
    char *safe = lds_words_escape(name);
    fputs("\n\n", out);
    for (int i = 0; i < LDS_PAGE_COLUMNS; i++)
        fputs("━", out);
    fprintf(out, "\nAppendix: %s%s\n\n", what, safe ? safe : "");
    free(safe);
}

static bool is_among(const struct lds_measurement *measurement, const struct lds_measurement *const *list, size_t count)
{
    for (size_t i = 0; i < count; i++)
        if (list[i] == measurement)
            return true;
    return false;
}

static const struct lds_job_group *group_of(const struct lds_job *job, const struct lds_measurement *measurement)
{
    for (size_t g = 0; g < job->groups; g++) {
        const struct lds_job_group *group = &job->group[g];
        if (is_among(measurement, group->before_capture, group->before) ||
            is_among(measurement, group->after_capture, group->after) ||
            is_among(measurement, group->other_capture, group->other))
            return group;
    }
    return NULL;
}

/* The captures of a group without comparison; NULL: all others. */
static void print_captures(FILE *out, const struct lds_job *job, const struct lds_job_group *wanted)
{
    for (size_t i = 0; i < job->sheet->captures; i++) {
        const struct lds_job_group *group = group_of(job, &job->measurement[i]);
        if ((group && !group->compared ? group : NULL) != wanted)
            continue;
        print_chapter(out, "capture ", job->sheet->capture[i].name);
        lds_capture_print(out, &job->measurement[i]);
    }
}

static void print_groups(FILE *out, const struct lds_job *job)
{
    for (size_t i = 0; i < job->groups; i++) {
        const struct lds_job_group *group = &job->group[i];
        if (!group->compared) {
            print_captures(out, job, group);
            continue;
        }
        print_chapter(out, "before and after, ", group->title);
        lds_comparison_tables(out, &group->comparison);
    }
}

static void print_sound(FILE *out, const struct lds_rows_of_words *rows)
{
    lds_text_heading(out, "Are the captures sound?");
    for (size_t i = 0; i < rows->count; i++)
        lds_page_paragraph(out, INDENT, 2, "- %s: %s", rows->row[i].name, rows->row[i].text);
}

static void print_files(FILE *out, const struct lds_job *job)
{
    lds_text_heading(out, "Files: SHA-256, length in bytes");
    for (size_t i = 0; i < job->files; i++) {
        lds_page_paragraph(out, INDENT, 2, "%s", job->file[i].file);
        fprintf(out, "    %s %10" PRId64 "\n", job->file[i].sha256, job->file[i].bytes);
    }
}

enum lds_status lds_remarks_text(const struct lds_remarks *remarks, FILE *out, struct lds_error *error)
{
    struct lds_text_page page;
    FILE *text = lds_text_begin(&page);
    for (size_t i = 0; text && i < remarks->count; i++)
        lds_page_paragraph(text, INDENT, 2, "- %s", remarks->line[i]);
    return lds_text_finish(&page, out, error);
}

static void print_all(FILE *out, const struct lds_job *job)
{
    struct lds_job_words words;
    lds_job_words_make(&words, job);
    lds_client_print(out, job);
    print_groups(out, job);
    lds_job_limits_print(out, job);
    print_chapter(out, "the job", "");
    print_job(out, job, &words);
    print_sound(out, &words.sound);
    print_rows(out, "Conditions", &words.conditions);
    print_table(out, &words.captures);
    print_table(out, &words.scatter);
    print_paragraphs(out, "Method", &words.method);
    print_paragraphs(out, "Uncertainty", &words.uncertainty);
    print_rows(out, "Definitions", &words.definitions);
    print_files(out, job);
    print_captures(out, job, NULL);
    lds_job_words_free(&words);
}

enum lds_status lds_job_text(const struct lds_job *job, FILE *out, struct lds_error *error)
{
    struct lds_text_page page;
    FILE *text = lds_text_begin(&page);
    if (text)
        print_all(text, job);
    return lds_text_finish(&page, out, error);
}

enum lds_status lds_job_summary(const struct lds_job *job, FILE *out, struct lds_error *error)
{
    struct lds_text_page page;
    FILE *text = lds_text_begin(&page);
    if (text)
        lds_client_print(text, job);
    return lds_text_finish(&page, out, error);
}
