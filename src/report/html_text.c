/* The parts of a page that are words. */
#include <inttypes.h>
#include <string.h>

#include "loadside/loadside.h"
#include "report/html_parts.h"
#include "report/html_table.h"
#include "report/plot.h"

static void put_sound(struct lds_html *html, xmlNode *section, const struct lds_rows_of_words *rows)
{
    xmlNode *list = rows->count > 0 ? lds_html_add(html, section, "ul") : NULL;
    for (size_t i = 0; i < rows->count; i++)
        lds_html_format(html, lds_html_add(html, list, "li"), "%s: %s", rows->row[i].name, rows->row[i].text);
}

void lds_html_front(struct lds_html *html, const struct lds_job_words *words)
{
    xmlNode *section = lds_html_section(html, "The job");
    lds_html_rows(html, section, "facts", &words->unit);
    lds_html_rows(html, section, NULL, &words->parts);
    lds_html_rows(html, section, "facts", &words->rating);
    lds_html_rows(html, section, NULL, &words->powers);
    lds_html_lines(html, section, &words->notes);
    put_sound(html, lds_html_section(html, "Are the captures sound?"), &words->sound);
}

static void put_table(struct lds_html *html, xmlNode *section, const struct lds_table_of_words *words)
{
    struct lds_html_column column[LDS_WORDS_COLUMNS];
    struct lds_html_table table;
    if (words->rows == 0)
        return;
    for (size_t i = 0; i < words->columns; i++)
        column[i] = (struct lds_html_column){words->heading[i], i == 0             ? LDS_HTML_LABEL
                                                                : words->number[i] ? LDS_HTML_NUMBER
                                                                                   : LDS_HTML_TEXT};
    lds_html_table_open(&table, html, section, words->caption, column, words->columns);
    for (size_t r = 0; r < words->rows; r++) {
        const char *cell[LDS_WORDS_COLUMNS + 1] = {NULL};
        memcpy(cell, words->row[r].text, words->columns * sizeof *cell);
        lds_html_table_row(&table, cell);
    }
    lds_html_table_close(&table);
}

void lds_html_back(struct lds_html *html, const struct lds_job_words *words)
{
    xmlNode *conditions = lds_html_section(html, "Conditions");
    lds_html_rows(html, conditions, NULL, &words->conditions);
    put_table(html, conditions, &words->captures);
    put_table(html, conditions, &words->scatter);
    lds_html_lines(html, lds_html_section(html, "Method"), &words->method);
    lds_html_lines(html, lds_html_section(html, "Uncertainty"), &words->uncertainty);
    lds_html_rows(html, lds_html_section(html, "Definitions"), NULL, &words->definitions);
}

void lds_html_files(struct lds_html *html)
{
    static const struct lds_html_column columns[] = {
        {"file", LDS_HTML_LABEL}, {"bytes", LDS_HTML_RIGHT}, {"SHA-256", LDS_HTML_TEXT}};
    struct lds_html_table table;
    xmlNode *section = lds_html_section(html, "Files");
    lds_html_table_open(&table, html, section, "What this report rests on", columns,
                        sizeof columns / sizeof columns[0]);
    for (size_t i = 0; i < html->job->files; i++) {
        const struct lds_short bytes = lds_short("%" PRId64, html->job->file[i].bytes);
        xmlNode *cell = lds_html_table_row(&table, LDS_HTML_CELLS(html->job->file[i].file, bytes.text, ""));
        lds_html_element(html, cell ? xmlGetLastChild(cell->parent) : NULL, "code", NULL, html->job->file[i].sha256);
    }
    lds_html_table_close(&table);
    lds_html_format(html, lds_html_element(html, html->main, "footer", NULL, NULL), "Made by loadside %s.",
                    lds_version());
}
