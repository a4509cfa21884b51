/* The parts of a page that are words. */
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "grow.h"
#include "loadside/loadside.h"
#include "report/html_parts.h"
#include "report/html_table.h"
#include "report/plot.h"
#include "scarce.h"

/* A sentence about recordings, and those to which it applies. */
struct finding {
    char *sentence, *where;
    size_t count;
};

struct findings {
    struct finding *finding;
    size_t count, channels;
    char place[256]; /* the recording whose sentences are being collected */
};

static struct finding *finding_of(struct findings *findings, const char *sentence)
{
    for (size_t i = 0; i < findings->count; i++)
        if (strcmp(findings->finding[i].sentence, sentence) == 0)
            return &findings->finding[i];
    char *copy = strdup(sentence);
    struct finding *finding = copy ? lds_grow(&findings->finding, &findings->count, sizeof *finding) : NULL;
    if (finding)
        finding->sentence = copy;
    else
        free(copy);
    return finding;
}

static void hear(void *context, const char *sentence)
{
    struct findings *findings = context;
    struct finding *finding = finding_of(findings, sentence);
    char *where = NULL;
    if (!finding || asprintf(&where, "%s%s%s", finding->where ? finding->where : "", finding->where ? "; " : "",
                             findings->place) < 0) {
        lds_scarce_note();
        return;
    }
    free(finding->where);
    finding->where = where;
    finding->count++;
}

static void hear_all(struct findings *findings, const struct lds_job *job)
{
    const struct lds_listener listener = {hear, findings};
    for (size_t i = 0; i < job->sheet->captures; i++)
        for (size_t c = 0; c < job->measurement[i].channels; c++) {
            const struct lds_channel *channel = &job->measurement[i].channel[c];
            snprintf(findings->place, sizeof findings->place, "%s, channel %d", job->sheet->capture[i].name,
                     channel->channel);
            findings->channels++;
            lds_trust_say(channel, &listener);
        }
}

static void put_recordings(struct lds_html *html, xmlNode *section)
{
    struct findings findings = {0};
    hear_all(&findings, html->job);
    xmlNode *list = findings.count > 0 ? lds_html_add(html, section, "ul") : NULL;
    for (size_t i = 0; i < findings.count; i++) {
        struct finding *finding = &findings.finding[i];
        bool all = finding->count == findings.channels;
        lds_html_format(html, lds_html_add(html, list, "li"), "%s: %s", all ? "All" : finding->where,
                        finding->sentence);
        free(finding->sentence);
        free(finding->where);
    }
    free(findings.finding);
}

void lds_html_front(struct lds_html *html, const struct lds_job_words *words)
{
    xmlNode *section = lds_html_section(html, "The job");
    lds_html_rows(html, section, "facts", &words->unit);
    lds_html_rows(html, section, NULL, &words->parts);
    lds_html_rows(html, section, "facts", &words->rating);
    lds_html_rows(html, section, NULL, &words->powers);
    lds_html_lines(html, section, &words->notes);
    put_recordings(html, lds_html_section(html, "Are the captures sound?"));
}

void lds_html_back(struct lds_html *html, const struct lds_job_words *words)
{
    lds_html_rows(html, lds_html_section(html, "Conditions"), NULL, &words->conditions);
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
        char bytes[32];
        snprintf(bytes, sizeof bytes, "%" PRId64, html->job->file[i].bytes);
        xmlNode *cell = lds_html_table_row(&table, LDS_HTML_CELLS(html->job->file[i].file, bytes, ""));
        lds_html_element(html, cell ? xmlGetLastChild(cell->parent) : NULL, "code", NULL, html->job->file[i].sha256);
    }
    lds_html_table_close(&table);
    lds_html_format(html, lds_html_element(html, html->main, "footer", NULL, NULL), "Made by loadside %s.",
                    lds_version());
}
