/* The report of a job as text: the summary first, then tables, conditions, standing texts, files. */
#include <inttypes.h>
#include <stdlib.h>
#include <string.h>

#include "loadside/report.h"
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

static bool print_row(FILE *out, const char *name, const char *text)
{
    char *safe_name = lds_words_escape(name), *safe = lds_words_escape(text), *line = NULL;
    bool enough = safe_name && safe;
    if (enough && is_ascii(safe_name) && strlen(safe_name) < NAME - 1) {
        char title[INDENT + NAME + 1];
        snprintf(title, sizeof title, "%*s%-*s", INDENT, "", NAME, safe_name);
        lds_text_titled(out, title, safe[0] ? safe : "not stated");
    } else if (enough) {
        enough = asprintf(&line, "%s: %s", safe_name, safe) >= 0;
        if (enough)
            lds_page_paragraph(out, INDENT, INDENT, line);
    }
    if (enough)
        free(line);
    free(safe_name);
    free(safe);
    return enough;
}

/* A name that stands in the row above is not said again. */
static bool print_rows(FILE *out, const char *heading, const struct lds_rows_of_words *rows)
{
    bool enough = true;
    if (rows->count > 0)
        lds_text_heading(out, heading);
    for (size_t i = 0; enough && i < rows->count; i++)
        enough = print_row(out, i > 0 && strcmp(rows->row[i - 1].name, rows->row[i].name) == 0 ? "" : rows->row[i].name,
                           rows->row[i].text);
    return enough;
}

static bool print_paragraph(FILE *out, int hanging, const char *before, const char *text)
{
    char *safe = lds_words_escape(text), *line = NULL;
    bool enough = safe && asprintf(&line, "%s%s", before, safe) >= 0;
    if (enough) {
        lds_page_paragraph(out, INDENT, hanging, line);
        free(line);
    }
    free(safe);
    return enough;
}

static bool print_paragraphs(FILE *out, const char *heading, const struct lds_remarks *remarks, bool list)
{
    bool enough = true;
    if (remarks->count > 0)
        lds_text_heading(out, heading);
    for (size_t i = 0; enough && i < remarks->count; i++) {
        if (!list && i > 0)
            fputc('\n', out);
        enough = print_paragraph(out, list ? 2 : 0, list ? "- " : "", remarks->line[i]);
    }
    return enough;
}

static bool print_head(FILE *out, const struct lds_job *job, const struct lds_job_words *words)
{
    char *title = lds_words_escape(words->title);
    bool enough = title != NULL;
    if (enough)
        lds_page_paragraph(out, 0, 0, title);
    free(title);
    return enough && print_rows(out, "Unit and job", &words->unit) && print_rows(out, "Summary", &words->summary) &&
           print_paragraphs(out, "What would make this report fuller", &job->missing, true) &&
           print_paragraphs(out, "What was done", &words->work, false) &&
           print_rows(out, "Parts changed", &words->parts) && print_paragraphs(out, "Notes", &words->notes, false) &&
           print_rows(out, "Power as stated", &words->rating) && print_rows(out, "Tested at", &words->powers);
}

/* A rule across the page with what stands below it. */
static bool print_chapter(FILE *out, const char *what, const char *name)
{
    char *safe = lds_words_escape(name);
    fputs("\n\n", out);
    for (int i = 0; i < LDS_PAGE_COLUMNS; i++)
        fputs("━", out);
    fprintf(out, "\n%s: ", what);
    fprintf(out, "%s\n\n", safe ? safe : "");
    bool enough = safe != NULL;
    free(safe);
    return enough;
}

static bool print_tables(FILE *out, const struct lds_job *job)
{
    bool enough = true;
    for (size_t i = 0; enough && i < job->groups; i++)
        if (job->group[i].compared)
            enough = print_chapter(out, "Before and after", job->group[i].title) &&
                     lds_comparison_text(&job->group[i].comparison, out, NULL) == LDS_OK;
    for (size_t i = 0; enough && i < job->sheet->captures; i++)
        enough = print_chapter(out, "Capture", job->sheet->capture[i].name) &&
                 lds_report_text(&job->measurement[i], 1, out, NULL) == LDS_OK;
    return enough;
}

static bool print_files(FILE *out, const struct lds_job *job)
{
    bool enough = true;
    lds_text_heading(out, "Files: SHA-256, length in bytes");
    for (size_t i = 0; enough && i < job->files; i++) {
        enough = print_paragraph(out, 2, "", job->file[i].file);
        fprintf(out, "    %s %10" PRId64 "\n", job->file[i].sha256, job->file[i].bytes);
    }
    return enough;
}

enum lds_status lds_remarks_text(const struct lds_remarks *remarks, FILE *out, struct lds_error *error)
{
    struct lds_text_sheet sheet;
    FILE *page = lds_text_begin(&sheet, out);
    bool enough = page != NULL;
    for (size_t i = 0; enough && i < remarks->count; i++)
        enough = print_paragraph(page, 2, "- ", remarks->line[i]);
    return lds_text_finish(&sheet, enough, error);
}

static bool print_summary(FILE *out, const struct lds_job *job, const struct lds_job_words *words)
{
    (void)job;
    bool enough = true;
    for (size_t i = 0; enough && i < words->summary.count; i++) {
        const struct lds_row_of_words *row = &words->summary.row[i];
        enough = print_row(out, i > 0 && strcmp(row[-1].name, row->name) == 0 ? "" : row->name, row->text);
    }
    return enough;
}

static bool print_all(FILE *out, const struct lds_job *job, const struct lds_job_words *words)
{
    return print_head(out, job, words) && print_rows(out, "Conditions", &words->conditions) &&
           print_paragraphs(out, "Method", &words->method, false) &&
           print_rows(out, "Definitions", &words->definitions) &&
           print_paragraphs(out, "Uncertainty", &words->uncertainty, false) &&
           print_paragraphs(out, "Cautions", &words->cautions, false) && print_files(out, job) &&
           print_tables(out, job);
}

typedef bool (*printer)(FILE *out, const struct lds_job *job, const struct lds_job_words *words);

static enum lds_status print_words(printer print, const struct lds_job *job, FILE *out, struct lds_error *error)
{
    struct lds_job_words words;
    struct lds_point_locale locale;
    struct lds_text_sheet sheet;
    FILE *page = lds_text_begin(&sheet, out);
    bool enough = lds_job_words_make(&words, job) && page && lds_point_locale_enter(&locale);
    if (enough) {
        enough = print(page, job, &words);
        lds_point_locale_leave(&locale);
    }
    lds_job_words_free(&words);
    return lds_text_finish(&sheet, enough, error);
}

enum lds_status lds_job_text(const struct lds_job *job, FILE *out, struct lds_error *error)
{
    return print_words(print_all, job, out, error);
}

enum lds_status lds_job_summary(const struct lds_job *job, FILE *out, struct lds_error *error)
{
    return print_words(print_summary, job, out, error);
}
