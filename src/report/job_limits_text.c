/* The limits of all groups of a job as one table of text. */
#include "report/comparison_cells.h"
#include "report/job_words.h"
#include "report/page.h"
#include "report/text.h"
#include "safe_text.h"

/* indent 2, label, what was found before and after its point, interval with unit, limit, result of 9: 80 columns in all
 */
enum { LABEL = 27, BEFORE = 4, AFTER = 5, INTERVAL = 15, BOUND = 18 };

static void print_limit(FILE *out, const struct lds_compared_channel *channel, const struct lds_limit_result *limit)
{
    struct lds_limit_cells cells = lds_limit_cells(channel, limit);
    const struct lds_reading *reading = &cells.reading;
    const struct lds_label interval =
                               lds_label("%s%s%s", reading->interval, reading->interval[0] ? " " : "", reading->unit),
                           bound = lds_label("%s %s", cells.kind, cells.bound.text);
    lds_text_label_column(out, cells.label.text, LABEL);
    lds_page_number(out, reading->value, BEFORE, AFTER);
    int width = lds_words_width(bound.text), room = width < BOUND ? INTERVAL : INTERVAL + BOUND - 1 - width;
    fputs(interval.text, out);
    if (lds_words_width(interval.text) >= room) { /* the limit goes below */
        fputc('\n', out);
        lds_page_left(out, "", 2 + LABEL + BEFORE + AFTER + room);
    } else {
        lds_page_left(out, "", room - lds_words_width(interval.text));
    }
    lds_page_left(out, bound.text, width < BOUND ? BOUND : width + 1);
    fprintf(out, "%s\n", cells.result);
    lds_page_paragraph(out, 4, 2, "%s", limit->reason ? limit->reason : "");
}

void lds_job_limits_print(FILE *out, const struct lds_job *job)
{
    bool begun = false;
    for (size_t g = 0; g < job->groups; g++) {
        const struct lds_comparison *comparison = &job->group[g].comparison;
        for (size_t c = 0; c < comparison->channels; c++) {
            const struct lds_compared_channel *channel = &comparison->channel[c];
            if (channel->limits == 0)
                continue;
            if (!begun)
                lds_text_heading(out, "Limits of this job");
            begun = true;
            fputc('\n', out);
            lds_page_paragraph(out, 0, 2, "%s, %s", job->group[g].title,
                               lds_job_channel_words(job->sheet, channel->channel).text);
            for (size_t i = 0; i < channel->limits; i++)
                print_limit(out, channel, &channel->limit[i]);
        }
    }
}
