/* What the parts imply, beside what was measured, on the page of a report. */
#include <stdlib.h>

#include "report/expected_cells.h"
#include "report/html_parts.h"

static void put_table(struct lds_html *html, xmlNode *section, size_t first, size_t last)
{
    const struct lds_html_column columns[] = {
        {html->job->expected[first].expected.row->label, LDS_HTML_LABEL},
        {"implied", LDS_HTML_NUMBER},
        {"limits", LDS_HTML_RIGHT},
        {"measured", LDS_HTML_NUMBER},
        {"95 %", LDS_HTML_RIGHT},
        {"unit", LDS_HTML_TEXT},
        {"result", LDS_HTML_TEXT},
    };
    struct lds_html_table table;
    char *title = lds_beside_title(html->job->expected[first].of);
    lds_html_table_open(&table, html, section, title ? title : "", columns, sizeof columns / sizeof columns[0]);
    free(title);
    for (size_t i = first; i < last; i++) {
        struct lds_beside_cells cells = lds_beside_cells(html->job, &html->job->expected[i]);
        lds_html_table_row(&table, LDS_HTML_CELLS(cells.label.text, cells.implied.value, cells.limits, cells.measured,
                                                  cells.interval, cells.implied.unit, cells.word.text));
    }
    lds_html_table_close(&table);
    for (size_t i = first; i < last; i++) {
        char *reason = lds_beside_reason(html->job, &html->job->expected[i]);
        if (reason)
            lds_html_element(html, section, "p", NULL, reason);
        free(reason);
    }
}

void lds_html_expected(struct lds_html *html)
{
    const struct lds_job *job = html->job;
    if (job->expecteds == 0)
        return;
    xmlNode *section = lds_html_section(html, "What the parts imply");
    for (size_t first = 0, last; first < job->expecteds; first = last) {
        last = lds_expected_section(job, first);
        put_table(html, section, first, last);
    }
    for (size_t i = 0; lds_beside_note(job, i); i++)
        lds_html_element(html, section, "p", NULL, lds_beside_note(job, i));
}
