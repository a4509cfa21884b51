/* What the parts imply, beside what was measured, in the text of a job's report. */
#include <stdlib.h>
#include <string.h>

#include "report/expected_cells.h"
#include "report/page.h"
#include "report/text.h"

/* indent 2, label, what is implied with its limits, what was measured with its interval, unit, word: 80 in all */
enum { LABEL = 14, BEFORE = 4, AFTER = 5, LIMITS = 15, MEASURED = 7, INTERVAL = 9, UNIT = 4 };

static void print_row(FILE *out, const struct lds_job *job, const struct lds_job_expected *one)
{
    struct lds_beside_cells cells = lds_beside_cells(job, one);
    lds_text_label_column(out, cells.label.text, LABEL);
    lds_page_number(out, cells.implied.value, BEFORE, AFTER);
    lds_page_left(out, cells.limits, LIMITS);
    lds_page_number(out, cells.measured, BEFORE, MEASURED);
    lds_page_left(out, cells.interval, INTERVAL);
    lds_page_left(out, cells.implied.unit, UNIT);
    fprintf(out, " %s\n", cells.word.text);
}

static void print_section(FILE *out, const struct lds_job *job, size_t first, size_t last)
{
    char *title = lds_beside_title(job->expected[first].of);
    lds_page_paragraph(out, 2, 2, "%s", title ? title : "");
    free(title);
    const struct lds_expected_row *row = job->expected[first].expected.row;
    lds_page_paragraph(out, 2, 2, "%s", row->label);
    for (size_t i = first; i < last; i++)
        print_row(out, job, &job->expected[i]);
    for (size_t i = first; i < last; i++) {
        char *reason = lds_beside_reason(job, &job->expected[i]);
        if (reason)
            lds_page_paragraph(out, 2, 2, "%s", reason);
        free(reason);
    }
    fputc('\n', out);
}

size_t lds_expected_section(const struct lds_job *job, size_t first)
{
    size_t last = first;
    while (last < job->expecteds && job->expected[last].of == job->expected[first].of)
        last++;
    return last;
}

void lds_expected_print(FILE *out, const struct lds_job *job)
{
    if (job->expecteds == 0)
        return;
    lds_text_heading(out, "What the parts imply");
    fprintf(out, "%*s%-*s%s\n", 2 + LABEL + 1, "", BEFORE + AFTER + LIMITS, "implied", "measured, 95 %");
    for (size_t first = 0, last; first < job->expecteds; first = last) {
        last = lds_expected_section(job, first);
        print_section(out, job, first, last);
    }
    for (size_t i = 0; lds_beside_note(job, i); i++)
        lds_page_paragraph(out, 2, 0, "%s", lds_beside_note(job, i));
}
