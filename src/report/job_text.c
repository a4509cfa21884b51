/* The report of a job as text: the client's page first, then the appendix: changes, the job, conditions,
 * standing texts, files, every capture. */
#include <inttypes.h>
#include <stdlib.h>
#include <string.h>

#include "loadside/report.h"
#include "report/client_text.h"
#include "report/expected_parts.h"
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
    char *safe_name = lds_words_escape(name), title[INDENT + NAME + 1];
    if (safe_name && is_ascii(safe_name) && strlen(safe_name) < NAME - 1) {
        snprintf(title, sizeof title, "%*s%-*s", INDENT, "", NAME, safe_name);
        lds_text_titled(out, title, text[0] ? text : "not stated");
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

static void print_paragraphs(FILE *out, const char *heading, const struct lds_remarks *remarks)
{
    if (remarks->count > 0)
        lds_text_heading(out, "%s", heading);
    for (size_t i = 0; i < remarks->count; i++) {
        fputs(i > 0 ? "\n" : "", out);
        lds_page_paragraph(out, INDENT, 0, "%s", remarks->line[i]);
    }
}

static void print_list(FILE *out, const void *remarks)
{
    const struct lds_remarks *list = remarks;
    for (size_t i = 0; i < list->count; i++)
        lds_page_paragraph(out, INDENT, 2, "- %s", list->line[i]);
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

static void print_changes(FILE *out, const struct lds_job *job)
{
    for (size_t i = 0; i < job->groups; i++)
        if (job->group[i].compared) {
            print_chapter(out, "before and after, ", job->group[i].title);
            lds_comparison_tables(out, &job->group[i].comparison);
        }
}

static void print_captures(FILE *out, const struct lds_job *job)
{
    for (size_t i = 0; i < job->sheet->captures; i++) {
        print_chapter(out, "capture ", job->sheet->capture[i].name);
        lds_capture_print(out, &job->measurement[i]);
    }
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
    return lds_text_print(out, print_list, remarks, error);
}

static void print_all(FILE *out, const void *context)
{
    const struct lds_job *job = context;
    struct lds_job_words words;
    lds_job_words_make(&words, job);
    lds_client_print(out, job);
    print_changes(out, job);
    print_chapter(out, "the job", "");
    print_job(out, job, &words);
    print_rows(out, "Conditions", &words.conditions);
    print_paragraphs(out, "Method", &words.method);
    print_rows(out, "Definitions", &words.definitions);
    print_paragraphs(out, "Uncertainty", &words.uncertainty);
    print_files(out, job);
    print_captures(out, job);
    lds_job_words_free(&words);
}

enum lds_status lds_job_text(const struct lds_job *job, FILE *out, struct lds_error *error)
{
    return lds_text_print(out, print_all, job, error);
}

enum lds_status lds_job_summary(const struct lds_job *job, FILE *out, struct lds_error *error)
{
    return lds_text_print(out, lds_client_print, job, error);
}
